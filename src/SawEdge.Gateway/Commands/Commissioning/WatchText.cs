using System.Globalization;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>What stands above the signals and does not change.</summary>
/// <param name="Saw">Name of the saw.</param>
/// <param name="Source">Where its signals come from, in words.</param>
/// <param name="Interval">Time between its frames.</param>
/// <param name="Hint">What helps where nothing can be read, or empty.</param>
internal sealed record WatchHead(string Saw, string Source, TimeSpan Interval, string Hint);

/// <summary>How a line is meant.</summary>
internal enum LineTone
{
    /// <summary>As any other.</summary>
    Plain,

    /// <summary>A heading.</summary>
    Heading,

    /// <summary>Less important.</summary>
    Dim,

    /// <summary>Something is wrong.</summary>
    Bad,
}

/// <summary>A line of the picture; its text holds nothing that a terminal would obey.</summary>
internal readonly record struct TextLine(string Text, LineTone Tone = LineTone.Plain);

/// <summary>Draws a watched saw as lines of text. Pure.</summary>
internal sealed class WatchText
{
    /// <summary>The narrowest picture, cells.</summary>
    public const int LeastWidth = 80;

    private const int NameCells = 15;
    private const int RawCells = 9;
    private const int AgeCells = 6;
    private const int QualityCells = 4;
    private const int ValueCells = 12;
    private const int LimitCells = 7;
    private const int MostTroubles = 4;

    private readonly WatchHead _head;
    private readonly WatchUnits _units;
    private readonly CycleWords _words;
    private readonly int _width;
    private readonly int _fromCells;

    /// <summary>Prepares to draw.</summary>
    /// <param name="head">What stands above.</param>
    /// <param name="places">The signals.</param>
    /// <param name="units">The units to print in.</param>
    /// <param name="width">Cells of a line; at least <see cref="LeastWidth"/> is used.</param>
    public WatchText(WatchHead head, IReadOnlyList<SignalPlace> places, WatchUnits units, int width = LeastWidth)
    {
        _head = head;
        _units = units;
        _width = Math.Max(LeastWidth, width);
        _words = new CycleWords(units, places.Any(place => place.Signal == Signal.MotorLoad), places.Any(place => place.Signal == Signal.HeadPosition));
        _fromCells = _width - NameCells - RawCells - AgeCells - QualityCells - ValueCells - (2 * LimitCells) - 7;
    }

    /// <summary>The words about cycles.</summary>
    public CycleWords Words => _words;

    /// <summary>Draws.</summary>
    /// <param name="moment">The saw as it is now.</param>
    /// <param name="troubles">What is wrong.</param>
    public IReadOnlyList<TextLine> Draw(WatchMoment moment, IReadOnlyList<SaidTrouble> troubles)
    {
        var lines = new List<TextLine>();
        var running = string.Create(CultureInfo.InvariantCulture, $"{(int)moment.Running.TotalHours:00}:{moment.Running.Minutes:00}:{moment.Running.Seconds:00}");
        lines.Add(new TextLine(TextCells.Left($"{_head.Saw}: {_head.Source}", _width - 9) + " " + running, LineTone.Heading));

        // First, because a low window cuts what stands last.
        AddTroubles(lines, troubles);
        lines.Add(new TextLine(Columns("signal", "from", "raw", "age", "", "value", "min", "max"), LineTone.Dim));

        // Where nothing answers, the trouble above says why, and once is enough.
        var isSilent = troubles.Any(said => !said.IsOver) && moment.Signals.All(signal => signal.Quality == SignalQuality.SourceFault);
        foreach (var signal in moment.Signals)
            AddSignal(lines, signal, isSilent);
        lines.Add(new TextLine(""));
        AddWrapped(lines, "cycle     ", _words.Of(moment));
        AddWrapped(lines, "last      ", moment.LastCycle is { } last ? _words.Of(last) : "no finished cycle since the start");
        AddWrapped(lines, "reading   ", Reading(moment));
        return lines;
    }

    private void AddSignal(List<TextLine> lines, SignalMoment signal, bool isSilent)
    {
        var isGood = signal.Quality == SignalQuality.Good;
        var tone = isGood ? LineTone.Plain : LineTone.Bad;
        var info = signal.Place.Info;
        var fromFits = TextCells.Width(signal.Place.From) <= _fromCells;
        var rawFits = TextCells.Width(signal.Raw) <= RawCells;
        var name = TextCells.Left(info.Name, NameCells);
        var begin = $"{name} {TextCells.Left(fromFits ? signal.Place.From : "", _fromCells)} {TextCells.Left(rawFits ? signal.Raw : "", RawCells)} {TextCells.Right(signal.Age is { } age ? WatchUnits.Age(age) : "-", AgeCells)} {Quality(signal.Quality)} ";
        var (value, rest) = Value(signal, info);
        var left = _width - TextCells.Width(begin);
        var valueFits = TextCells.Width(value) <= left;
        lines.Add(new TextLine((begin + (rest ?? TextCells.Cut(value, left))).TrimEnd(), tone));
        if (!fromFits)
            AddWrapped(lines, "  from ", signal.Place.From, LineTone.Dim);
        if (!rawFits)
            AddWrapped(lines, "  raw ", signal.Raw, LineTone.Dim);
        if (!valueFits)
            AddWrapped(lines, "  value ", value);
        if (!isGood && !isSilent)
            AddWrapped(lines, "  ", Why(signal, info), LineTone.Bad);
    }

    // What stands from the value on: numbers with their least and greatest, others with the number of changes.
    private (string Value, string? Columns) Value(SignalMoment signal, SignalInfo info)
    {
        if (info.Kind is SignalKind.Number or SignalKind.Integer)
        {
            var text = _units.Text(signal.Number, info.Unit);
            return ("", $"{TextCells.Right(text, ValueCells)} {TextCells.Right(_units.Number(signal.Minimum, info.Unit, LimitCells), LimitCells)} {TextCells.Right(_units.Number(signal.Maximum, info.Unit, LimitCells), LimitCells)}");
        }

        var changes = signal.Changes == 0 ? "" : string.Create(CultureInfo.InvariantCulture, $"{signal.Changes} change{(signal.Changes == 1 ? "" : "s")}");
        if (info.Kind == SignalKind.Flag)
            return ("", $"{TextCells.Right(signal.Flag switch { true => "yes", false => "no", null => "-" }, ValueCells)} {TextCells.Right(changes, (2 * LimitCells) + 1)}");
        var shown = signal.Text ?? "-";
        return TextCells.Width(shown) <= ValueCells ? ("", $"{TextCells.Right(shown, ValueCells)} {TextCells.Right(changes, (2 * LimitCells) + 1)}") : (shown, null);
    }

    /// <summary>Quality in a word of four letters; what it means stands below.</summary>
    private static string Quality(SignalQuality quality) => quality switch
    {
        SignalQuality.Good => "good",
        SignalQuality.OutOfRange => "OUT ",
        SignalQuality.Invalid => "BAD ",
        SignalQuality.SourceFault => "GONE",
        _ => "none",
    };

    /// <summary>Why a value is not used, in words.</summary>
    public string Why(SignalMoment signal, SignalInfo info) => signal.Quality switch
    {
        SignalQuality.OutOfRange => $"out of range: {(double.IsNaN(signal.OutOfRange) ? "the value" : _units.Text(signal.OutOfRange, info.Unit))} is {Limits(signal, info)}",
        SignalQuality.Invalid => $"not usable: {(signal.Raw.Length > 0 ? $"'{TextCells.Cut(signal.Raw, 40)}'" : "what came")} is {Wanted(signal, info)}",
        SignalQuality.SourceFault => signal.Age is { } age ? $"no answer; the last value came {WatchUnits.Age(age)} ago" : "no answer yet",
        SignalQuality.NotRead when signal.Raw.Length > 0 => "nothing to use: it came empty, as null, or as old news that the broker had kept",
        _ => "nothing came yet",
    };

    private string Limits(SignalMoment signal, SignalInfo info)
    {
        var place = signal.Place;
        if (place.Minimum is { } minimum && (signal.OutOfRange < minimum || place.Maximum is null))
            return $"below the minimum of {_units.Text(minimum, info.Unit)} in the configuration";
        return place.Maximum is { } maximum ? $"above the maximum of {_units.Text(maximum, info.Unit)} in the configuration" : "outside the limits of the configuration";
    }

    private static string Wanted(SignalMoment signal, SignalInfo info) => info.Kind switch
    {
        SignalKind.Flag => "no yes or no; check type and mapping",
        SignalKind.Text => "none of the texts or codes of the mapping",
        SignalKind.Integer => $"no whole number{As(signal)}; check type and order",
        _ => $"no number{As(signal)}; check type and order",
    };

    private static string As(SignalMoment signal) => signal.Place.Form.Length > 0 ? $" as {signal.Place.Form}" : "";

    private string Reading(WatchMoment moment)
    {
        var frames = string.Create(CultureInfo.InvariantCulture, $"{moment.Frames} frame{(moment.Frames == 1 ? "" : "s")}");
        if (moment.Polls is not { } polls)
            return frames;
        var answers = polls.Greatest == TimeSpan.Zero
            ? "no answer yet"
            : string.Create(CultureInfo.InvariantCulture, $"an answer takes {polls.Median.TotalMilliseconds:0.0} ms (median), {polls.Greatest.TotalMilliseconds:0.0} ms at most");
        return string.Create(
            CultureInfo.InvariantCulture,
            $"every {_head.Interval.TotalMilliseconds:0} ms with {polls.Requests} request{(polls.Requests == 1 ? "" : "s")}; {answers}; {polls.Polls} poll{(polls.Polls == 1 ? "" : "s")}, {frames}");
    }

    private void AddTroubles(List<TextLine> lines, IReadOnlyList<SaidTrouble> troubles)
    {
        foreach (var said in troubles.TakeLast(MostTroubles))
            AddWrapped(lines, string.Create(CultureInfo.InvariantCulture, $"{(said.IsOver ? "over    " : "trouble ")}  "), said.Text, said.IsOver ? LineTone.Plain : LineTone.Bad);
        if (_head.Hint.Length > 0 && troubles.Any(said => !said.IsOver))
            AddWrapped(lines, "          ", _head.Hint);
    }

    private void AddWrapped(List<TextLine> lines, string begin, string words, LineTone tone = LineTone.Plain)
    {
        foreach (var line in TextCells.Wrap(begin, words, _width, TextCells.Width(begin)))
            lines.Add(new TextLine(line.TrimEnd(), tone));
    }

    private string Columns(string name, string from, string raw, string age, string quality, string value, string minimum, string maximum) =>
        $"{TextCells.Left(name, NameCells)} {TextCells.Left(from, _fromCells)} {TextCells.Left(raw, RawCells)} {TextCells.Right(age, AgeCells)} {TextCells.Left(quality, QualityCells)} {TextCells.Right(value, ValueCells)} {TextCells.Right(minimum, LimitCells)} {TextCells.Right(maximum, LimitCells)}";
}
