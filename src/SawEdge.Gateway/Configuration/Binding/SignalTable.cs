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
            return [.. SignalInfo.All.Select(info => new MappedSignal<T>(info, o.Optional(info.Name, types[info.Signal], Doc(info))))];
        });
    }

    /// <summary>Says where the signals that are there do not do.</summary>
    /// <param name="o">The saw.</param>
    /// <param name="signals">What is mapped.</param>
    /// <param name="derived">What follows from it.</param>
    public static void Check<T>(ConfigObject o, Setting<IReadOnlyList<MappedSignal<T>>> signals, IReadOnlyList<(SignalInfo Info, Setting<DerivedDraft?> Draft)>? derived)
        where T : class
    {
        if (signals.Value is not { } all)
            return;
        var stated = all.Where(signal => signal.Mapping.IsStated).Select(signal => signal.Info.Signal).ToHashSet();
        foreach (var (info, draft) in (derived ?? []).Where(one => one.Draft.IsStated))
        {
            if (!stated.Add(info.Signal))
                o.Error(draft, $"signals.{info.Name} is stated as well; keep what the controller tells or what follows from other signals");
            foreach (var condition in draft.Value?.When ?? [])
            {
                if (condition.Value is { } written && !all.Any(signal => signal.Info.Signal == written.Condition.Signal && signal.Mapping.IsStated))
                    o.Error(condition, $"{SignalInfo.Of(written.Condition.Signal).Name} is not mapped; map it under \"signals\", or leave the condition out");
            }
        }

        if (!stated.Overlaps([Signal.HeadPosition, Signal.Cutting, Signal.CycleActive]))
            o.Error(signals, "nothing here tells when the saw cuts; map head_position, cutting or cycle_active");
        if (!stated.Contains(Signal.MotorLoad))
            o.Warning(signals, "motor_load is not mapped: cuts are timed, but load, energy and the load score stay empty");
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
        { Signal: Signal.HeadPosition } => "Head",
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
