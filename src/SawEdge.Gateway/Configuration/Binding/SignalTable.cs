using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>One signal as it was mapped, before the saw's rated values are worked in.</summary>
internal sealed record MappedSignal<T>(SignalInfo Info, Setting<T?> Mapping)
    where T : class;

/// <summary>The object that maps signals by their names; the same for every kind of source.</summary>
internal static class SignalTable
{
    /// <summary>Declares it.</summary>
    /// <param name="name">Name of the type in the schema.</param>
    /// <param name="doc">What it is.</param>
    /// <param name="mapping">The type of one signal's mapping.</param>
    public static ObjectType<IReadOnlyList<MappedSignal<T>>> Of<T>(string name, string doc, Func<SignalInfo, ConfigType<T>> mapping)
        where T : class
    {
        var types = SignalInfo.All.ToDictionary(info => info.Signal, mapping);
        return new ObjectType<IReadOnlyList<MappedSignal<T>>>(name, doc, o =>
        {
            var all = SignalInfo.All.Select(info => new MappedSignal<T>(info, o.Optional(info.Name, types[info.Signal], Doc(info)))).ToList();
            var stated = all.Where(signal => signal.Mapping.IsStated).Select(signal => signal.Info.Signal).ToHashSet();
            if (!stated.Overlaps([Signal.HeadPosition, Signal.Cutting, Signal.CycleActive]))
                o.ErrorAt("", "nothing here tells when the saw cuts; map head_position, cutting or cycle_active");
            if (!stated.Contains(Signal.MotorLoad))
                o.WarningAt("", "motor_load is not mapped: cuts are timed, but load, energy and the load score stay empty");
            return all;
        });
    }

    /// <summary>One type for all signals whose mappings look the same, by kind and unit.</summary>
    public static Func<SignalInfo, ConfigType<T>> Shared<T>(Func<SignalInfo, ConfigType<T>> make)
    {
        var made = new Dictionary<string, ConfigType<T>>();
        return info =>
        {
            var shape = ShapeOf(info);
            if (!made.TryGetValue(shape, out var type))
                made.Add(shape, type = make(info));
            return type;
        };
    }

    /// <summary>Name of what a signal's mapping looks like, for type names in the schema.</summary>
    public static string ShapeOf(SignalInfo info) => info switch
    {
        { Signal: Signal.Mode } => "Mode",
        { Kind: SignalKind.Number, Unit: "mm" } => "Length",
        { Kind: SignalKind.Number, Unit: "kW" } => "Load",
        { Kind: SignalKind.Number, Unit: "m/min" } => "Speed",
        _ => info.Kind.ToString(),
    };

    private static string Doc(SignalInfo info)
    {
        var meaning = char.ToUpperInvariant(info.Meaning[0]) + info.Meaning[1..];
        return info.Unit.Length > 0 ? $"{meaning} (kept in {info.Unit})." : $"{meaning}.";
    }
}
