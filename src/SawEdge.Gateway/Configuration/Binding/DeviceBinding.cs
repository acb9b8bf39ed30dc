using System.Text.RegularExpressions;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares Modbus devices: over TCP, behind a serial server, or on a serial line.</summary>
internal static partial class DeviceBinding
{
    private static readonly TextType Line = new("serial line", "/dev/ttyUSB0", CheckLine) { MaximumLength = 255 };

    private static readonly IntegerType Baud = new(300, 4_000_000, "19200");

    private static readonly IntegerType StopBits = new(1, 2, "1");

    private static readonly ChoiceType<LineParity> Parities = new(
        ("even", LineParity.Even, "Even: the standard's default."),
        ("odd", LineParity.Odd, "Odd."),
        ("none", LineParity.None, "No parity bit."));

    /// <summary>One device.</summary>
    public static ObjectType<ModbusDeviceOptions> Type { get; } = new("device", "One connection to a Modbus device, shared by its units. The gateway only reads.", Bind);

    private static ModbusDeviceOptions Bind(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("saw-1-plc"), "Name, unique; saws refer to it.");
        var timeout = o.Default("responseTimeout", ValueTypes.Time("10 ms", "60 s"), "1 s", "How long to wait for an answer.");
        var pause = o.Default("pause", ValueTypes.Time("0 ms", "10 s"), "0 ms", "Least time between an answer and the next request, for controllers that cannot follow.");
        var gap = o.Default("maximumGap", new IntegerType(0, 124, "8"), "8", "Registers not asked for that may be read along to join two neighbours into one request; 0 for devices that refuse to have others read.");
        var device = o.Variants<ModbusDeviceOptions>(
            "kind",
            "How it is reached.",
            "tcp",
            [
                new("tcp", "Modbus TCP.", tcp => BindTcp(tcp, isRtu: false)),
                new("rtu_tcp", "A serial server that passes on the frames of a serial line (Modbus RTU) as they are.", tcp => BindTcp(tcp, isRtu: true)),
                new("serial", "Modbus RTU on a serial line of this machine; eight data bits.", BindSerial),
            ]);
        return (device ?? new ModbusTcpDeviceOptions { Name = "", Host = null! }) with { Name = name, ResponseTimeout = timeout, Pause = pause, MaximumGap = gap };
    }

    private static ModbusTcpDeviceOptions BindTcp(ConfigObject o, bool isRtu) => new()
    {
        Name = "",
        IsRtu = isRtu,
        Host = o.Required("host", ValueTypes.Host, "Host name or address."),
        Port = o.Default("port", ValueTypes.Port, "502", "TCP port."),
        ConnectTimeout = o.Default("connectTimeout", ValueTypes.Time("10 ms", "60 s"), "5 s", "How long to wait for a connection."),
    };

    private static ModbusSerialDeviceOptions BindSerial(ConfigObject o)
    {
        var line = o.Required("line", Line, "The line as the operating system names it: \"/dev/ttyUSB0\", or better a name that stays, under /dev/serial/by-id; \"COM3\" on Windows.");
        var baud = o.Default("baud", Baud, "19200", "Bits a second.");
        var parity = o.Default("parity", Parities, "even", "Parity bit.");
        var stopBits = o.OptionalValue("stopBits", StopBits, "Stop bits. Left out: 1 with parity, 2 without, as the standard has it; many devices use 1 without parity, too.");
        return new ModbusSerialDeviceOptions
        {
            Name = "",
            Line = line,
            Baud = baud,
            Parity = parity,
            StopBits = stopBits.Value ?? (parity.Value == LineParity.None ? 2 : 1),
        };
    }

    private static string? CheckLine(string text) => Lines().IsMatch(text)
        ? null
        : $"{Words.Quoted(text)} is no serial line; write its full name, for example \"/dev/ttyUSB0\", or \"COM3\" on Windows";

    [GeneratedRegex("^(?:/.+|COM[0-9]{1,3})$")]
    private static partial Regex Lines();
}
