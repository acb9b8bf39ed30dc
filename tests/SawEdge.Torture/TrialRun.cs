using System.Diagnostics;
using System.Globalization;

namespace SawEdge.Torture;

/// <summary>One run of a trial: what it may draw on, and what it found.</summary>
/// <param name="seed">Seed of <see cref="Random"/>: the same seed, the same choices.</param>
/// <param name="isShort">The short form, for every build.</param>
/// <param name="count">How many blows, where the command line says so.</param>
/// <param name="longest">After this the trial deals no more blows, and goes on to its checks.</param>
/// <param name="output">Where progress is told.</param>
internal sealed class TrialRun(int seed, bool isShort, int? count, TimeSpan longest, TextWriter output)
{
    private readonly long _began = Stopwatch.GetTimestamp();
    private readonly List<string> _failures = [];
    private readonly List<(string Name, string Value)> _figures = [];

    /// <summary>Seed of the run.</summary>
    public int Seed => seed;

    /// <summary>Whether it is the short form.</summary>
    public bool IsShort => isShort;

    /// <summary>Everything that is left to chance.</summary>
    public Random Random { get; } = new(seed);

    /// <summary>Time since the start.</summary>
    public TimeSpan Elapsed => Stopwatch.GetElapsedTime(_began);

    /// <summary>Whether the time for blows is over.</summary>
    public bool IsTimeUp => Elapsed >= longest;

    /// <summary>Checks that did not hold.</summary>
    public IReadOnlyList<string> Failures => _failures;

    /// <summary>What was measured, in order.</summary>
    public IReadOnlyList<(string Name, string Value)> Figures => _figures;

    /// <summary>How many blows: what the command line says, or the number of the form.</summary>
    public int Count(int shortForm, int longForm) => count ?? (isShort ? shortForm : longForm);

    /// <summary>Tells progress.</summary>
    public void Say(FormattableString text) => output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"  {Elapsed:hh\\:mm\\:ss} {text.ToString(CultureInfo.InvariantCulture)}"));

    /// <summary>Holds a check; a failure is told at once and ends the run with failure, but not now.</summary>
    public bool Check(bool holds, FormattableString what)
    {
        if (holds)
            return true;
        var text = what.ToString(CultureInfo.InvariantCulture);
        _failures.Add(text);
        Say($"FAILED: {text}");
        return false;
    }

    /// <summary>States a figure of the closing table.</summary>
    public void Figure(string name, FormattableString value) => _figures.Add((name, value.ToString(CultureInfo.InvariantCulture)));
}
