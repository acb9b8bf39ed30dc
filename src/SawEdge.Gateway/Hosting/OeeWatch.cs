using System.Collections.Concurrent;
using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Hosting;

/// <summary>The figures that rules on OEE look at: of each saw, over the shift so far or the span that a rule names, worked out now and then.</summary>
internal sealed class OeeWatch
{
    /// <summary>Planned and seen time below which figures say nothing yet. Common practice, no source.</summary>
    private static readonly TimeSpan LeastPlanned = TimeSpan.FromMinutes(30);

    /// <summary>How far behind what is stored of a saw may be: so much of the newest time is no sign that it is not seen.</summary>
    private static readonly TimeSpan Lag = TimeSpan.FromMinutes(3);

    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(30);

    private readonly CalendarOptions? _calendar;
    private readonly HistoryReader _reader;
    private readonly TimeProvider _machine;
    private readonly ILogger _logger;
    private readonly (SawOptions Saw, TimeSpan? Over)[] _wanted;
    private readonly ConcurrentDictionary<(string Saw, TimeSpan? Over), Look> _looks = new();
    private bool _inTrouble;

    /// <summary>Prepares the watch.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="reader">The history.</param>
    /// <param name="machine">The machine clock.</param>
    /// <param name="logger">Where it speaks.</param>
    public OeeWatch(GatewayOptions options, HistoryReader reader, TimeProvider machine, ILogger logger)
    {
        _calendar = options.Calendar;
        _reader = reader;
        _machine = machine;
        _logger = logger;
        var pairs = options.Alarms.Rules.Where(rule => rule.Variable.Topic == AlarmTopic.Oee)
            .SelectMany(rule => options.Saws.Where(saw => rule.Subjects?.Contains(saw.Name) ?? true).Select(saw => (Rule: rule, Saw: saw)))
            .ToList();
        _wanted = [.. pairs.Select(pair => (pair.Saw, pair.Rule.Over)).Distinct()];
        Probes = [.. pairs.Select(pair => new AlarmProbe(pair.Rule.Variable, AlarmSubject.Saw(pair.Saw.Name), () => Read(pair.Saw.Name, pair.Rule)) { Rule = pair.Rule.Name, Facts = () => Facts(pair.Saw.Name, pair.Rule) })];
    }

    /// <summary>One probe for each rule and saw.</summary>
    public IReadOnlyList<AlarmProbe> Probes { get; }

    /// <summary>Looks until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, _machine);
        do
            await LookAsync(cancellation);
        while (await look.WaitForNextTickAsync(cancellation));
    }

    /// <summary>Works the figures out once.</summary>
    public async Task LookAsync(CancellationToken cancellation)
    {
        if (_calendar is null)
            return;
        try
        {
            foreach (var (saw, over) in _wanted)
                _looks[(saw.Name, over)] = await LookAsync(_calendar, saw, over, cancellation);
            _inTrouble = false;
        }
        catch (HistoryException e) when (e is not HistoryCorruptException)
        {
            // What is not known raises and clears nothing.
            _looks.Clear();
            if (!_inTrouble)
                HostingLog.OeeUnread(_logger, e.Message);
            _inTrouble = true;
        }
    }

    private static double ValueOf(Look look, string variable) => variable switch
    {
        "unknown_share" => look.IsPlanned ? look.Figures.UnknownShare : double.NaN,
        _ when !look.IsSeen => double.NaN,
        "availability" => look.Figures.Availability,
        "effectiveness" => look.Figures.Effectiveness,
        "quality_ratio" => look.Figures.QualityRatio,
        "oee" => look.Figures.Oee,
        _ => throw new ArgumentException($"There is no figure '{variable}'.", nameof(variable)),
    };

    private async Task<Look> LookAsync(CalendarOptions calendar, SawOptions saw, TimeSpan? over, CancellationToken cancellation)
    {
        var now = _machine.GetUtcNow();
        var last = await _reader.LastStateAsync(saw.Name, cancellation);
        var shift = over is null ? calendar.Calendar.ShiftAt(now) : null;
        if (over is null && shift is null)
            return default;

        var to = last is not null && last.To > now - Lag ? last.To < now ? last.To : now : now - Lag;
        var from = over is { } span ? now - span : shift!.Time.From;
        if (to <= from)
            return default;
        var period = new Period(from, to);
        var buckets = (await _reader.AccountAsync(saw.Name, calendar, period, saw.HasHandlingBetweenCycles, cancellation)).Buckets(period);
        var words = over is { } hours
            ? string.Create(CultureInfo.InvariantCulture, $"the last {hours.TotalHours:0.##} h")
            : string.Create(CultureInfo.InvariantCulture, $"shift {shift!.Name} since {TimeZoneInfo.ConvertTime(shift.Time.From, calendar.Calendar.Zone):HH:mm}");
        return new Look(buckets.Figures, buckets.PlannedBusyTime >= LeastPlanned, buckets.Observed >= LeastPlanned, words);
    }

    private ProbeValue Read(string saw, AlarmRule rule) => _looks.TryGetValue((saw, rule.Over), out var look) ? ValueOf(look, rule.Variable.Name) : double.NaN;

    private Dictionary<string, AlarmFact> Facts(string saw, AlarmRule rule)
    {
        var facts = new Dictionary<string, AlarmFact>(StringComparer.Ordinal);
        if (!_looks.TryGetValue((saw, rule.Over), out var look))
            return facts;
        foreach (var variable in AlarmVariables.All.Where(variable => variable.Topic == AlarmTopic.Oee))
            facts[variable.Name] = AlarmFact.Number(ValueOf(look, variable.Name), variable.Unit);
        facts["period"] = AlarmFact.Words(look.Period ?? "");
        return facts;
    }

    /// <summary>What was seen; the default: nothing.</summary>
    private readonly record struct Look(OeeFigures Figures, bool IsPlanned, bool IsSeen, string? Period);
}
