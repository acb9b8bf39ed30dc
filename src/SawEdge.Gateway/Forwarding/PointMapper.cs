using InfluxDB.Client.Api.Domain;
using InfluxDB.Client.Writes;
using SawEdge.Core;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.Forwarding;

/// <summary>Cycle records as points of the measurement <c>cycle</c>, in line protocol. Pure: the same record gives the same line.</summary>
/// <remarks>
/// <para>Tags are <c>site</c>, <c>gateway</c> and <c>saw</c>, and nothing else, for two reasons. A point is known by
/// its tags and time: a correction that changes the outcome, the material or the blade must land on the same point, or
/// sums would count the cut twice, and only what the configuration fixes never changes. And tag values must be bounded
/// in number, which blades, jobs and materials named by a controller are not. All of those are text fields; they can
/// be filtered on as well (<c>WHERE outcome = 'completed'</c>).</para>
/// <para>The time is the start of the cycle: two cycles of one saw never share it, and a correction never moves it.</para>
/// <para>Every other column of the record is a field of the same name: numbers as floats, whole numbers as integers,
/// times as integers in milliseconds since 1970, texts as texts. What is not known is absent. <c>completed</c> is 1 for
/// a completed cut and 0 for any other, because text cannot be summed up.</para>
/// </remarks>
internal sealed class PointMapper
{
    /// <summary>Name of the measurement.</summary>
    public const string Measurement = "cycle";

    /// <summary>Unit of the points' times.</summary>
    public const WritePrecision Precision = WritePrecision.Ms;

    private readonly string _site;
    private readonly string _gateway;

    /// <summary>A mapper for one gateway.</summary>
    public PointMapper(string site, string gateway)
    {
        _site = LineText.Tag(site);
        _gateway = LineText.Tag(gateway);
    }

    /// <summary>The line of a record.</summary>
    public string ToLine(CycleRecord record)
    {
        var point = PointData.Builder.Measurement(Measurement).Tag("site", _site).Tag("gateway", _gateway).Tag("saw", LineText.Tag(record.Saw));
        foreach (var column in CycleColumns.All)
        {
            if (column.Name is "saw" or "started_at")
                continue;
            switch (column.Get(record))
            {
                case string { Length: > 0 } text:
                    point.Field(column.Name, LineText.Field(text));
                    break;
                case double number when double.IsFinite(number):
                    point.Field(column.Name, number);
                    break;
                case long whole:
                    point.Field(column.Name, whole);
                    break;
                case DateTimeOffset time:
                    point.Field(column.Name, time.ToUnixTimeMilliseconds());
                    break;
            }
        }

        point.Field("completed", record.Outcome == CutOutcome.Completed ? 1L : 0L);
        point.Timestamp(record.StartedAt.ToUnixTimeMilliseconds(), Precision);
        return point.ToPointData().ToLineProtocol();
    }
}
