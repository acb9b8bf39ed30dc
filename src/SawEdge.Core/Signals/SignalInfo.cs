using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Core.Signals;

/// <summary>Name, kind and unit of one signal: the vocabulary of recordings, mappings and exports.</summary>
/// <param name="Signal">The signal.</param>
/// <param name="Name">Its name outside the process, snake case.</param>
/// <param name="Kind">How its value is written.</param>
/// <param name="Unit">Its unit, empty where it has none.</param>
/// <param name="Meaning">One line for the documentation.</param>
public sealed record SignalInfo(Signal Signal, string Name, SignalKind Kind, string Unit, string Meaning)
{
    /// <summary>Number of signals that are stored as numbers (numbers, flags and integers).</summary>
    public const int NumericCount = 10;

    /// <summary>Number of signals that are stored as text.</summary>
    public const int TextCount = 4;

    /// <summary>Number of all signals.</summary>
    public const int Count = NumericCount + TextCount;

    /// <summary>All signals in the order in which recordings list them.</summary>
    public static IReadOnlyList<SignalInfo> All { get; } =
    [
        new(Signal.HeadPosition, "head_position", SignalKind.Number, "mm", "height of the blade's cutting edge above the table; falls during a cut"),
        new(Signal.MotorLoad, "motor_load", SignalKind.Number, "kW", "blade motor power, after conversion"),
        new(Signal.BladeSpeed, "blade_speed", SignalKind.Number, "m/min", "blade speed"),
        new(Signal.CycleActive, "cycle_active", SignalKind.Flag, "", "the controller runs an automatic cycle"),
        new(Signal.Cutting, "cutting", SignalKind.Flag, "", "the controller says the head feeds into the work"),
        new(Signal.BladeRunning, "blade_running", SignalKind.Flag, "", "the blade is driven"),
        new(Signal.FaultCode, "fault_code", SignalKind.Integer, "", "the controller's fault code; 0 or empty: none"),
        new(Signal.Mode, "mode", SignalKind.Text, "", "automatic, semi_automatic or manual"),
        new(Signal.Job, "job", SignalKind.Text, "", "the job's identifier at the controller"),
        new(Signal.PartCount, "part_count", SignalKind.Integer, "", "the controller's own counter: may roll over or be reset"),
        new(Signal.BarId, "bar_id", SignalKind.Text, "", "the bar in the vise, where the controller or a scanner knows it"),
        new(Signal.BladeId, "blade_id", SignalKind.Text, "", "the blade on the saw, where the controller or a scanner knows it"),
        new(Signal.BladeDeviation, "blade_deviation", SignalKind.Number, "mm", "deviation of the blade from its line, where a gauge is fitted"),
        new(Signal.ScrapCount, "scrap_count", SignalKind.Integer, "", "the controller's scrap counter, where kept"),
    ];

    private static readonly SignalInfo[] BySignal = [.. All.OrderBy(info => info.Signal)];

    private static readonly Dictionary<string, SignalInfo> ByName = All.ToDictionary(info => info.Name, StringComparer.Ordinal);

    /// <summary>The facts about one signal.</summary>
    public static SignalInfo Of(Signal signal) => BySignal[(int)signal];

    /// <summary>Finds a signal by its name outside the process.</summary>
    /// <param name="name">The name, snake case, for example <c>head_position</c>.</param>
    /// <param name="info">The signal's facts where the name is known.</param>
    /// <returns>Whether the name is known.</returns>
    public static bool TryFind(string name, [NotNullWhen(true)] out SignalInfo? info) => ByName.TryGetValue(name, out info);

    /// <summary>Whether values of this signal are stored as numbers.</summary>
    public static bool IsNumeric(Signal signal) => (int)signal < NumericCount;
}
