using System.Globalization;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>What is scanned.</summary>
/// <param name="Device">The device.</param>
/// <param name="Unit">Unit identifier.</param>
/// <param name="First">The first register or bit.</param>
/// <param name="Count">How many.</param>
internal sealed record ScanTarget(ModbusDeviceOptions Device, byte Unit, RegisterAddress First, int Count)
{
    /// <summary>How many are read where nothing is said.</summary>
    public const int UsualCount = 50;

    /// <summary>Device and unit in words.</summary>
    public string Source => string.Create(CultureInfo.InvariantCulture, $"{(Device.Name.Length > 0 ? $"{Device.Name}, " : "")}{Device.Endpoint}, unit {Unit}");

    /// <summary>Reads <c>[DEVICE] ADDRESS [COUNT]</c>; an address may be two words.</summary>
    /// <param name="words">The words.</param>
    /// <param name="hasDevice">Whether the first one names a device or saw of the configuration.</param>
    /// <exception cref="CommandException">They say something else; the message says what would be right.</exception>
    public static (string? Device, RegisterAddress First, int? Count) Parse(IReadOnlyList<string> words, bool hasDevice)
    {
        var rest = hasDevice ? words.Skip(1).ToList() : [.. words];
        if (rest.Count == 0 || (hasDevice && words.Count < 2))
            throw new CommandException("Write device and first register, for example: scan saw-1-plc \"holding 100\" 50; or without a configuration: scan --host 192.168.10.21 \"holding 100\" 50.");
        var text = rest[0];
        var used = 1;
        if (rest.Count > 1 && text.All(char.IsAsciiLetter))
        {
            text = $"{text} {rest[1]}";
            used = 2;
        }

        if (!RegisterAddress.TryParse(text, out var first, out var problem))
            throw new CommandException($"First register: {problem}{(problem[^1] == '?' ? "" : ".")}");
        if (rest.Count > used + 1)
            throw new CommandException($"{Words.Quoted(rest[used + 1])} is one word too many; write device, first register, count.");
        return (hasDevice ? words[0] : null, first, rest.Count > used ? CountOf(rest[used]) : null);
    }

    /// <summary>Finds a device by its own name, or by that of a saw behind it.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="name">The name.</param>
    /// <param name="unit">The unit where it was stated.</param>
    /// <exception cref="CommandException">There is none of that name, or it has several units.</exception>
    public static (ModbusDeviceOptions Device, byte Unit) Find(GatewayOptions options, string name, byte? unit)
    {
        var modbus = options.Saws.Where(saw => saw.Source is ModbusSourceOptions).Select(saw => (saw.Name, Source: (ModbusSourceOptions)saw.Source)).ToList();
        if (options.ModbusDevices.FirstOrDefault(device => device.Name == name) is { } found)
        {
            var units = modbus.Where(saw => saw.Source.Device == name).Select(saw => saw.Source.Unit).Distinct().ToList();
            return units.Count > 1 && unit is null
                ? throw new CommandException($"Device {Words.Quoted(name)} has the units {string.Join(", ", units)}; say which with --unit, or name the saw.")
                : (found, unit ?? units.FirstOrDefault((byte)1));
        }

        if (modbus.FirstOrDefault(saw => saw.Name == name).Source is { } source)
            return (options.ModbusDevices.First(device => device.Name == source.Device), unit ?? source.Unit);
        List<string> names = [.. options.ModbusDevices.Select(device => device.Name), .. modbus.Select(saw => saw.Name)];
        if (options.Saws.Any(saw => saw.Name == name))
            throw new CommandException($"{Words.Quoted(name)} is not read over Modbus; 'watch {name}' shows what it publishes.");
        throw new CommandException($"There is no Modbus device or saw {Words.Quoted(name)}; {(names.Count == 0 ? "the configuration has none." : NamedFolder.Hint(name, names))}");
    }

    /// <summary>A count that fits behind the first register.</summary>
    /// <exception cref="CommandException">It does not.</exception>
    public static int CheckCount(RegisterAddress first, int? stated)
    {
        var room = 65536 - first.Address;
        if (stated is { } count && (count < 1 || count > room))
            throw new CommandException($"From {first} on there are 1 to {room}; {count} were asked for.");
        return stated ?? Math.Min(UsualCount, room);
    }

    private static int CountOf(string text) => int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var count)
        ? count
        : throw new CommandException($"{Words.Quoted(text)} is no count; write a whole number, for example 50.");
}
