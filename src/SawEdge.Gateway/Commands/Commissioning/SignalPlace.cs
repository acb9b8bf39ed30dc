using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>One mapped signal of a saw for a person who looks at it: where it comes from, and which values are believed.</summary>
/// <param name="Signal">The signal.</param>
/// <param name="From">Where it comes from: address, topic, member of the payload.</param>
/// <param name="Form">How the value lies there, for example <c>float32 cdab</c>; empty where there is nothing to say.</param>
/// <param name="Minimum">Least value that is believed, in the signal's unit; null: no limit.</param>
/// <param name="Maximum">Greatest value that is believed, in the signal's unit; null: no limit.</param>
internal sealed record SignalPlace(Signal Signal, string From, string Form, double? Minimum, double? Maximum)
{
    private SignalDecoder? _decoder;
    private ValueConversion _conversion = ValueConversion.Identity;

    /// <summary>Name, kind and unit of the signal.</summary>
    public SignalInfo Info => SignalInfo.Of(Signal);

    /// <summary>What a saw maps, and what follows from that, in the order of the vocabulary.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="units">The units to print in.</param>
    public static IReadOnlyList<SignalPlace> Of(SawOptions saw, WatchUnits units)
    {
        IEnumerable<SignalPlace> places = saw.Source switch
        {
            ModbusSourceOptions modbus => modbus.Signals.Select(Of),
            MqttSourceOptions mqtt => mqtt.Signals.Select(mapping => Of(mapping, mapping.Topic ?? mapping.Member ?? "")),
            SparkplugSourceOptions sparkplug => sparkplug.Signals.Select(mapping => Of(mapping, mapping.Metric)),
            RecordingSourceOptions recording => recording.Signals.Select(mapping => Of(mapping, mapping.Column)),
            _ => [],
        };
        places = places.Concat(saw.Derived.Select(rule => new SignalPlace(rule.Signal, $"conditions: {string.Join(" and ", rule.When.Select(condition => Words(condition, units)))}", "", null, null)));
        return [.. SignalInfo.All.SelectMany(info => places.Where(place => place.Signal == info.Signal))];
    }

    /// <summary>The value of registers whatever the limits, in the signal's unit; NaN where they hold no number.</summary>
    public double Unlimited(ReadOnlySpan<ushort> words)
    {
        if (_decoder is null || _decoder.IsBit || words.Length != _decoder.Length)
            return double.NaN;
        var frame = default(SignalFrame);
        _decoder.Decode(words, ref frame);
        return frame.Number(Signal);
    }

    /// <summary>The value of a number as it is written, whatever the limits, in the signal's unit; NaN where it is none.</summary>
    public double Unlimited(ReadOnlySpan<byte> text) =>
        NumberText.TryParse(text, out var raw) && double.IsFinite(raw) ? _conversion.Apply(raw) : double.NaN;

    private static SignalPlace Of(RegisterMapping mapping)
    {
        var from = new RegisterAddress(mapping.Table, mapping.Address).ToString();
        if (mapping.Bit is { } bit)
            from += string.Create(CultureInfo.InvariantCulture, $".{bit}");
        var isBit = mapping.Table is RegisterTable.Coil or RegisterTable.DiscreteInput;
        var order = mapping.Count > 1 || mapping.Order is not (WordOrder.Abcd or WordOrder.Cdab) ? $" {Lower(mapping.Order.ToString())}" : "";
        return new SignalPlace(mapping.Signal, from, isBit ? "bit" : Lower(mapping.Type.ToString()) + order, mapping.Minimum, mapping.Maximum)
        {
            _decoder = new SignalDecoder(mapping with { Minimum = null, Maximum = null }),
        };
    }

    private static SignalPlace Of(ValueMapping mapping, string from) =>
        new(mapping.Signal, ControllerText.Clean(from), "", mapping.Minimum, mapping.Maximum) { _conversion = mapping.Conversion };

    private static string Words(SignalCondition condition, WatchUnits units)
    {
        var info = SignalInfo.Of(condition.Signal);
        var value = condition.Text is { } text ? ControllerText.Clean(text) : units.Text(condition.Limit, info.Unit);
        return condition.Kind switch
        {
            ConditionKind.IsSet => info.Name,
            ConditionKind.IsNotSet => $"not {info.Name}",
            ConditionKind.Above => $"{info.Name} above {value}",
            ConditionKind.Below => $"{info.Name} below {value}",
            ConditionKind.Is => $"{info.Name} is {value}",
            _ => $"{info.Name} is not {value}",
        };
    }

    private static string Lower(string word) => word.ToLowerInvariant();
}
