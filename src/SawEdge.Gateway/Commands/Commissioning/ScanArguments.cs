using System.CommandLine;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>What can be said to <c>scan</c>.</summary>
internal sealed class ScanArguments
{
    private readonly Argument<string[]> _words = new("what") { Description = "Device or saw of the configuration (not with --host or --line), first register as in a mapping (\"holding 100\", 40101), count.", Arity = ArgumentArity.OneOrMore, HelpName = "DEVICE FIRST [COUNT]" };
    private readonly Option<int?> _unit = new("--unit") { Description = "Unit identifier; that of the configuration, else 1.", HelpName = "NUMBER" };
    private readonly Option<int?> _count = new("--count") { Description = $"How many registers or bits; {ScanTarget.UsualCount} unless told.", HelpName = "NUMBER" };
    private readonly Option<string?> _host = new("--host") { Description = "A device on the network that is in no configuration.", HelpName = "HOST" };
    private readonly Option<int> _port = new("--port") { Description = "Its TCP port.", DefaultValueFactory = _ => 502, HelpName = "PORT" };
    private readonly Option<bool> _rtu = new("--rtu") { Description = "With --host: a serial server that passes on RTU frames." };
    private readonly Option<string?> _line = new("--line") { Description = "A serial line that is in no configuration, for example /dev/ttyUSB0 or COM3.", HelpName = "LINE" };
    private readonly Option<int> _baud = new("--baud") { Description = "Its speed, bit/s.", DefaultValueFactory = _ => 19200, HelpName = "BAUD" };
    private readonly Option<string> _parity = new("--parity") { Description = "Its parity.", DefaultValueFactory = _ => "even" };
    private readonly Option<int?> _stopBits = new("--stop-bits") { Description = "Its stop bits; 1 with parity and 2 without unless told.", HelpName = "NUMBER" };
    private readonly Option<string> _timeout = new("--timeout") { Description = "How long to wait for an answer, with --host or --line.", DefaultValueFactory = _ => "1 s", HelpName = "TIME" };
    private readonly Option<string?> _find = new("--find") { Description = "What the controller's panel shows, for example \"12.7 A\", or a text: where it may lie, with the mapping to paste.", HelpName = "VALUE" };
    private readonly Option<double?> _tolerance = new("--tolerance") { Description = "How far off it may be; half of its last place unless told.", HelpName = "NUMBER" };
    private readonly Option<int> _times = new("--times") { Description = "Read so often and show what changed, and how far.", DefaultValueFactory = _ => 1, HelpName = "NUMBER" };
    private readonly Option<string> _every = new("--every") { Description = "Time between readings.", DefaultValueFactory = _ => "1 s", HelpName = "TIME" };
    private readonly Option<string> _format = new("--format") { Description = "text, for people; json or csv, for programs.", DefaultValueFactory = _ => "text" };
    private readonly DataFolderOptions _folder = new();

    /// <summary>Adds everything to the command.</summary>
    public ScanArguments(Command command)
    {
        _parity.AcceptOnlyFromAmong("none", "even", "odd");
        _format.AcceptOnlyFromAmong("text", "json", "csv");
        command.Arguments.Add(_words);
        foreach (var option in new Option[] { _unit, _count, _host, _port, _rtu, _line, _baud, _parity, _stopBits, _timeout, _find, _tolerance, _times, _every, _format })
            command.Options.Add(option);
        _folder.AddTo(command, units: false, data: false);
    }

    /// <summary>What is scanned.</summary>
    /// <exception cref="CommandException">It cannot be; the message says what would be right.</exception>
    public ScanTarget Target(ParseResult arguments, IReadOnlyDictionary<string, string> environment)
    {
        var (host, line) = (arguments.GetValue(_host), arguments.GetValue(_line));
        if (host is not null && line is not null)
            throw new CommandException("--host or --line: a device is on the network or on a serial line.");
        var (name, first, counted) = ScanTarget.Parse(arguments.GetValue(_words) ?? [], hasDevice: host is null && line is null);
        var count = ScanTarget.CheckCount(first, counted ?? arguments.GetValue(_count));
        var unit = Unit(arguments);
        if (name is not null)
        {
            var (device, found) = ScanTarget.Find(_folder.ReadConfiguration(arguments, environment), name, unit);
            return new ScanTarget(device, found, first, count);
        }

        return new ScanTarget(host is not null ? Network(arguments, host) : Serial(arguments, line!), unit ?? 1, first, count);
    }

    /// <summary>What is looked for; null: nothing.</summary>
    /// <exception cref="CommandException">It cannot be.</exception>
    public SoughtValue? Sought(ParseResult arguments) => arguments.GetValue(_find) is { } find ? SoughtValue.Parse(find, arguments.GetValue(_tolerance)) : null;

    /// <summary>How often, and with how much time in between.</summary>
    /// <exception cref="CommandException">A number is out of range.</exception>
    public (int Times, TimeSpan Every) Repeats(ParseResult arguments)
    {
        var times = arguments.GetValue(_times);
        if (times is < 1 or > 100_000)
            throw new CommandException("--times: a number from 1 to 100000 is wanted.");
        return (times, Time(arguments, _every));
    }

    /// <summary>How to print.</summary>
    public string Format(ParseResult arguments) => arguments.GetValue(_format)!;

    private byte? Unit(ParseResult arguments) => arguments.GetValue(_unit) switch
    {
        null => null,
        >= 0 and <= 255 and var unit => (byte)unit,
        _ => throw new CommandException("--unit: a number from 0 to 255 is wanted."),
    };

    private ModbusTcpDeviceOptions Network(ParseResult arguments, string host)
    {
        var port = arguments.GetValue(_port);
        if (port is < 1 or > 65535)
            throw new CommandException("--port: a number from 1 to 65535 is wanted.");
        return string.IsNullOrWhiteSpace(host)
            ? throw new CommandException("--host: a name or an address is wanted.")
            : new ModbusTcpDeviceOptions { Name = "", Host = host, Port = port, IsRtu = arguments.GetValue(_rtu), ResponseTimeout = Time(arguments, _timeout) };
    }

    private ModbusSerialDeviceOptions Serial(ParseResult arguments, string line)
    {
        var (baud, stopBits) = (arguments.GetValue(_baud), arguments.GetValue(_stopBits));
        if (baud is < 300 or > 4_000_000)
            throw new CommandException("--baud: a number from 300 to 4000000 is wanted, for example 19200.");
        if (stopBits is not (null or 1 or 2))
            throw new CommandException("--stop-bits: 1 or 2 is wanted.");
        var parity = arguments.GetValue(_parity) switch { "none" => LineParity.None, "odd" => LineParity.Odd, _ => LineParity.Even };
        return new ModbusSerialDeviceOptions
        {
            Name = "",
            Line = line,
            Baud = baud,
            Parity = parity,
            StopBits = stopBits ?? (parity == LineParity.None ? 2 : 1),
            ResponseTimeout = Time(arguments, _timeout),
        };
    }

    private static TimeSpan Time(ParseResult arguments, Option<string> option)
    {
        if (!QuantityKind.Time.TryParse(arguments.GetValue(option)!, out var seconds, out var problem))
            throw new CommandException($"{option.Name}: {problem}.");
        return seconds is > 0 and <= 86_400 ? TimeSpan.FromSeconds(seconds) : throw new CommandException($"{option.Name}: a time above 0 and up to a day is wanted, for example \"1 s\".");
    }
}
