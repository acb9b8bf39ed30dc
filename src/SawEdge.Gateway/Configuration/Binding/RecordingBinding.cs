using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;
using DerivedFlags = System.Collections.Generic.IReadOnlyList<(SawEdge.Core.Signals.SignalInfo Info, SawEdge.Gateway.Configuration.Reading.Setting<SawEdge.Gateway.Configuration.Binding.DerivedDraft?> Draft)>;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>One signal's column.</summary>
/// <param name="Mapping">The mapping; for a measured number without scale, offset and limits.</param>
/// <param name="Conversion">Scale, unit and limits of a measured number; null for other signals.</param>
internal sealed record ColumnSignal(ColumnMapping Mapping, SignalConversion? Conversion);

/// <summary>Declares a saw whose signals stand in recordings of other loggers.</summary>
internal static class RecordingBinding
{
    private static readonly TextType Column = new("name of a column", "Pos") { MaximumLength = 256 };

    private static readonly ChoiceType<char> Separators = new((",", ',', "A comma."), (";", ';', "A semicolon."), ("tab", '\t', "A tab."), ("|", '|', "A bar."));

    private static readonly ChoiceType<char> Decimals = new((".", '.', "A point: 12.5."), (",", ',', "A comma: 12,5."));

    private static readonly ObjectType<IReadOnlyList<MappedSignal<ColumnSignal>>> Signals = SignalTable.Of(
        "recordingSignals",
        "In which columns the signals stand. Head position, cutting or cycle_active is needed, and motor_load for everything about load.",
        SignalTable.Shared(MappingOf));

    /// <summary>Declares a saw's source.</summary>
    public static RecordingSourceOptions Bind(ConfigObject o, DriveRating drive, DerivedFlags? derived)
    {
        var time = o.Required("timeColumn", Column, "Name of the column that holds the time, as it stands in the header.");
        var date = o.Optional("dateColumn", Column, "Name of the column that holds the date, where it stands apart from the time; \"timeFormat\" is then that of date, a blank and time.");
        var format = o.Optional("timeFormat", PayloadTimeBinding.Pattern, "How times are written: yyyy, MM, dd, HH, mm, ss, fff, and K or zzz for a zone. Left out: as in RFC 3339 (2026-03-02T06:00:00.250Z), or as a number counted from 1970 in s, ms, us or ns.");
        var zone = o.Optional("timeZone", new TimeZoneType(), "Time zone (IANA) of times that are written without one. Left out: the plant's. In the hour that comes twice in autumn, times are taken for the first of the two until they fall back.");
        var separator = o.Default("separator", Separators, ",", "What stands between two columns.");
        var point = o.Default("decimal", Decimals, ".", "What stands before the decimals of a number.");
        var header = o.Default("headerLine", new IntegerType(1, 1000, "1"), "1", "Line in which the columns are named; what stands above it is passed over.");
        var skip = o.Default("skipRows", new IntegerType(0, 1000, "1"), "0", "Lines below the header that hold no values, for example units.");
        var sawColumn = o.Optional("sawColumn", Column, "Column that tells which saw a row is about, where one file holds several. Left out: a file is about the saw after which it is named up to its first dot, the one of --saw, or the only one that its columns fit.");
        var sawValue = o.Optional("sawValue", ValueTypes.Text("SAW 3"), "What stands in that column for this saw. Left out: the saw's name.");
        var signals = o.Required("signals", Signals, "In which columns the signals stand.");
        SignalTable.Check(o, signals, derived);
        if (separator.IsGood && point.IsGood && separator.Value == point.Value)
            o.Error(point.IsStated ? point : separator, "is both between columns and before decimals, so that 12,5 could be one number or two; look into the file: which of the two is it?");
        if (sawValue.IsStated && !sawColumn.IsStated)
            o.Error(sawValue, "goes with \"sawColumn\", which is missing");
        if (date.IsStated && !format.IsStated)
            o.Error(date, "goes with \"timeFormat\", which is missing; write for example \"dd.MM.yyyy HH:mm:ss\"");
        var mappings = new List<ColumnMapping>();
        foreach (var (info, setting) in signals.Value ?? [])
        {
            if (setting.Value is not { } signal)
                continue;
            var mapping = ValueMembers.Resolve(o, signal.Mapping with { Signal = info.Signal }, signal.Conversion, drive);
            if (setting.IsGood)
                mappings.Add(mapping);
        }

        return new RecordingSourceOptions
        {
            TimeColumn = time,
            DateColumn = date,
            TimeFormat = format,
            TimeZone = zone,
            Separator = separator,
            Decimal = point,
            HeaderLine = header,
            SkipRows = skip,
            SawColumn = sawColumn,
            SawValue = sawValue,
            Signals = mappings,
        };
    }

    private static ConfigType<ColumnSignal> MappingOf(SignalInfo info) => new ObjectType<ColumnSignal>($"column{SignalTable.ShapeOf(info)}", "One signal's column.", o =>
    {
        var column = o.Required("column", Column, "Name of the column, as it stands in the header.");
        var (mapping, conversion) = ValueMembers.Bind(o, info, new ColumnMapping { Signal = info.Signal, Column = column });
        return new ColumnSignal(mapping, conversion);
    });
}
