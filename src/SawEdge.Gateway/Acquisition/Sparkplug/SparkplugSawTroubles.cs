using System.Globalization;
using System.Text;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>What is wrong with the data of one saw, said once each.</summary>
internal sealed class SparkplugSawTroubles
{
    private const int MostNames = 12;

    private readonly string _saw;
    private readonly string _source;
    private readonly string _advice;
    private readonly ILogger _logger;
    private readonly Trouble _unborn;
    private readonly Trouble _gone;
    private readonly Trouble _unknown;
    private readonly Trouble _time;
    private readonly Trouble[] _values;
    private readonly BirthTrouble _missing;
    private readonly BirthTrouble _useless;
    private readonly BirthTrouble _ambiguous;
    private bool _skipsSets;

    public SparkplugSawTroubles(string saw, string source, string advice, TimeProvider time, ILogger logger, SourceErrors errors)
    {
        _saw = saw;
        _source = source;
        _advice = advice;
        _logger = logger;
        _unborn = new Trouble(time, () => errors.Count(SourceError.Metric));
        _gone = new Trouble(time);
        _unknown = new Trouble(time, () => errors.Count(SourceError.Metric));
        _time = new Trouble(time, () => errors.Count(SourceError.Time));
        _missing = new BirthTrouble(time);
        _useless = new BirthTrouble(time);
        _ambiguous = new BirthTrouble(time);
        _values = [.. Enumerable.Range(0, SignalInfo.Count).Select(_ => new Trouble(time, () => errors.Count(SourceError.Value)))];
    }

    /// <summary>Data came before a birth.</summary>
    public void Unborn()
    {
        if (_unborn.Comes())
            SparkplugLog.IsUnborn(_logger, _saw, _source, _advice);
    }

    /// <summary>The source said that it is gone.</summary>
    public void Gone()
    {
        if (_gone.Comes())
            SparkplugLog.IsGone(_logger, _saw, _source);
    }

    /// <summary>A birth, or data after a birth: the saw is there.</summary>
    public void Present()
    {
        if (_unborn.StaysAway())
            SparkplugLog.IsBorn(_logger, _saw, _source, _unborn.Count);
        if (_gone.StaysAway())
            SparkplugLog.IsBack(_logger, _saw, _source, _gone.Count);
        if (_missing.Ends())
            SparkplugLog.NoMetricIsMissing(_logger, _saw, _source);
        if (_useless.Ends() | _ambiguous.Ends())
            SparkplugLog.MetricsAreGood(_logger, _saw, _source);
    }

    /// <summary>A metric came that was not born.</summary>
    /// <param name="name">Its name as it came; empty where it has none.</param>
    /// <param name="alias">Its alias, or null.</param>
    public void Unknown(ReadOnlySpan<byte> name, ulong? alias)
    {
        if (_unknown.Comes())
            SparkplugLog.MetricIsUnknown(_logger, _saw, _source, name.Length > 0 ? Excerpt.Quote(name) : alias is null ? "a metric without a name" : string.Create(CultureInfo.InvariantCulture, $"the alias {alias}"), _advice);
    }

    /// <summary>All metrics of a message were born.</summary>
    public void Known()
    {
        if (_unknown.StaysAway())
            SparkplugLog.MetricsAreKnown(_logger, _saw, _source, _unknown.Count);
    }

    /// <summary>A birth was looked at.</summary>
    /// <param name="missing">Metrics of signals that it does not hold, for a person; empty: there is none.</param>
    /// <param name="payload">The birth.</param>
    /// <param name="bytes">Its bytes.</param>
    public void Lacks(string missing, SparkplugPayload payload, ReadOnlySpan<byte> bytes)
    {
        if (_missing.Comes(missing.Length > 0))
            SparkplugLog.MetricIsMissing(_logger, _saw, _source, missing, NamesIn(payload, bytes));
    }

    /// <summary>Metrics of a birth that cannot be the signals that they should be, for a person; empty: there is none.</summary>
    public void Useless(string metrics)
    {
        if (_useless.Comes(metrics.Length > 0))
            SparkplugLog.TypeIsUseless(_logger, _saw, metrics);
    }

    /// <summary>Data sets and templates in a birth that nobody asked for: said once.</summary>
    public void Sets(int count)
    {
        if (count > 0 && !_skipsSets)
            SparkplugLog.SetsAreSkipped(_logger, _saw, count, _source);
        _skipsSets |= count > 0;
    }

    /// <summary>An alias of a birth is that of several metrics, or null: none is.</summary>
    public void Ambiguous(ulong? alias)
    {
        if (_ambiguous.Comes(alias is not null))
            SparkplugLog.AliasIsAmbiguous(_logger, _saw, _source, alias!.Value);
    }

    /// <summary>The time of a payload is good.</summary>
    public void TimeIsGood()
    {
        if (_time.StaysAway())
            SparkplugLog.TimeIsUsed(_logger, _saw, _time.Count);
    }

    /// <summary>A payload says no time, or one that cannot be.</summary>
    public void TimeIsUseless(DateTimeOffset? time, DateTimeOffset now)
    {
        if (!_time.Comes())
            return;
        var reason = time is { } stated
            ? string.Create(CultureInfo.InvariantCulture, $"is {stated:yyyy-MM-dd'T'HH:mm:ss'Z'}, {(stated < now ? "far behind" : "far ahead of")} the gateway's clock; set the clock of the node or of the gateway")
            : "is missing";
        SparkplugLog.TimeIsRefused(_logger, _saw, reason);
    }

    /// <summary>A value was looked at.</summary>
    public void Value(MappedSignal signal, bool good, in SparkplugMetric metric, SparkplugDataType type, ReadOnlySpan<byte> bytes)
    {
        var trouble = _values[(int)signal.Signal];
        if (good)
        {
            if (trouble.StaysAway())
                SparkplugLog.ValueIsUsed(_logger, _saw, signal.Name, trouble.Count);
        }
        else if (trouble.Comes())
        {
            Span<byte> text = stackalloc byte[64];
            var length = SparkplugValue.Write(in metric, type, bytes, text);
            SparkplugLog.ValueIsUseless(_logger, _saw, signal.Name, $"{Excerpt.Quote(text[..length])} ({Words(type)})", signal.Expected);
        }
    }

    /// <summary>A type, for a message.</summary>
    public static string Words(SparkplugDataType type) => type switch
    {
        SparkplugDataType.DataSet => "a data set",
        SparkplugDataType.Template => "a template",
        SparkplugDataType.Unknown => "of no stated type",
        >= SparkplugDataType.FirstArray and <= SparkplugDataType.LastArray => "an array",
        _ when Enum.IsDefined(type) => $"of type {type}",
        _ => string.Create(CultureInfo.InvariantCulture, $"of the unknown type {(uint)type}"),
    };

    private static string NamesIn(SparkplugPayload payload, ReadOnlySpan<byte> bytes)
    {
        var names = new StringBuilder();
        var count = 0;
        foreach (ref readonly var metric in payload.Metrics)
        {
            if (metric.NameLength > 0 && count++ < MostNames)
                names.Append(count == 1 ? "" : ", ").Append(Excerpt.Quote(bytes.Slice(metric.NameStart, metric.NameLength)));
        }

        return count == 0 ? "no metric with a name" : count > MostNames ? names.Append(CultureInfo.InvariantCulture, $" and {count - MostNames} more").ToString() : names.ToString();
    }

    /// <summary>A trouble that lasts from one birth to the next.</summary>
    private sealed class BirthTrouble(TimeProvider time)
    {
        private readonly Trouble _trouble = new(time);
        private bool _isThere;

        /// <summary>A birth was looked at.</summary>
        /// <returns>Whether the trouble begins.</returns>
        public bool Comes(bool isThere)
        {
            _isThere = isThere;
            return isThere && _trouble.Comes();
        }

        /// <summary>Whether it is over.</summary>
        public bool Ends() => !_isThere && _trouble.StaysAway();
    }
}
