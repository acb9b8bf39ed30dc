using System.Collections.Concurrent;
using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Hosting;

/// <summary>The figures that rules on OEE look at: of each saw, over the shift so far or the span that a rule names, worked out now and then.</summary>
internal sealed class OeeWatch
{
    /// <summary>Planned and seen time below which figures say nothing yet. Common practice, no source.</summary>
    private static readonly TimeSpan LeastPlanned = TimeSpan.FromMinutes(30);

    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(30);

    private readonly OeeService _oee;
    private readonly TimeProvider _machine;
    private readonly ILogger _logger;
    private readonly (SawOptions Saw, TimeSpan? Over)[] _wanted;
    private readonly ConcurrentDictionary<(string Saw, TimeSpan? Over), Look> _looks = new();
    private bool _inTrouble;

    /// <summary>Prepares the watch.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="oee">The figures, as the API tells them.</param>
    /// <param name="machine">The machine clock.</param>
    /// <param name="logger">Where it speaks.</param>
    public OeeWatch(GatewayOptions options, OeeService oee, TimeProvider machine, ILogger logger)
    {
        _oee = oee;
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
        if (!_oee.HasCalendar)
            return;
        try
        {
            foreach (var (saw, over) in _wanted)
                _looks[(saw.Name, over)] = await LookAsync(saw, over, cancellation);
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

    private async Task<Look> LookAsync(SawOptions saw, TimeSpan? over, CancellationToken cancellation)
    {
        var now = _oee.Now;
        var calendar = _oee.Calendar.Calendar;
        var shift = over is null ? calendar.ShiftAt(now) : null;
        if (over is null && shift is null)
            return default;

        var period = new Period(over is { } span ? now - span : shift!.Time.From, now);
        if (await _oee.FiguresAsync(new OeeQuestion(period, OeeEach.Whole, OeeBy.Saw, [saw.Name]), cancellation) is not [{ Buckets: var buckets }])
            return default;
        var words = over is { } hours
            ? string.Create(CultureInfo.InvariantCulture, $"the last {hours.TotalHours:0.##} h")
            : string.Create(CultureInfo.InvariantCulture, $"shift {shift!.Name} since {TimeZoneInfo.ConvertTime(shift.Time.From, calendar.Zone):HH:mm}");
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
