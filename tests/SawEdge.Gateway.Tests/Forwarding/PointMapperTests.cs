using System.Buffers;
using System.Text;
using CsCheck;
using InfluxDB.Client.Writes;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Forwarding;

public sealed class PointMapperTests
{
    private static readonly PointMapper Mapper = new("North plant", "gw,1");

    [Fact]
    public void ToLine_OnlyTheRequiredKnown_HoldsNothingElse() =>
        Assert.Equal(
            "cycle,gateway=gw\\,1,saw=saw0,site=North\\ plant completed=0i,cycle_id=\"bare\",ended_at=1772431201000i,frames=0i,outcome=\"interrupted\" 1772431200000",
            Mapper.ToLine(Cycles.Bare()));

    [Fact]
    public void ToLine_EverythingKnown_HoldsEveryColumnUnderItsName()
    {
        var line = Mapper.ToLine(Cycles.Full());
        foreach (var column in CycleColumns.All.Where(column => column.Name is not ("saw" or "started_at")))
            Assert.Contains(column.Type switch { ColumnType.Text => $"{column.Name}=\"", _ => $"{column.Name}=" }, line, StringComparison.Ordinal);
        Assert.Contains("part_count=1099511627814i", line, StringComparison.Ordinal);
        Assert.EndsWith(" " + Cycles.Full().StartedAt.ToUnixTimeMilliseconds(), line, StringComparison.Ordinal);
    }

    [Fact]
    public void ToLine_ACorrection_IsTheSamePoint()
    {
        var first = Cycles.Make("saw0", 1);
        var corrected = first with { Outcome = CutOutcome.Interrupted, Material = "42CrMo4", Blade = "B-17", Mode = "manual", Job = "other", EndedAt = first.EndedAt.AddSeconds(5) };

        Assert.Equal("cycle,gateway=gw\\,1,saw=saw0,site=North\\ plant 1772431320000", Identity(Mapper.ToLine(first)));
        Assert.Equal(Identity(Mapper.ToLine(first)), Identity(Mapper.ToLine(corrected)));
        Assert.NotEqual(Mapper.ToLine(first), Mapper.ToLine(corrected));
    }

    [Fact]
    public void ToLine_NoFiniteNumber_IsAbsent()
    {
        var line = Mapper.ToLine(Cycles.Bare() with { CutTimeS = double.NaN, MeanLoadKw = double.PositiveInfinity });
        Assert.DoesNotContain("cut_time_s", line, StringComparison.Ordinal);
        Assert.DoesNotContain("mean_load_kw", line, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(0.1 + 0.2, "0.30000000000000004")]
    [InlineData(1e300, "1E+300")]
    [InlineData(5e-324, "5E-324")]
    [InlineData(75, "75")]
    public void ToLine_Numbers_AreWrittenSoThatNothingIsLost(double value, string written) =>
        Assert.Contains($",cut_time_s={written},", Mapper.ToLine(Cycles.Bare() with { CutTimeS = value }), StringComparison.Ordinal);

    // Source of the rules: InfluxDB v2 line protocol reference, sections "Special characters" and "Data types and format"
    // (github.com/influxdata/docs-v2, content/influxdb/v2/reference/syntax/line-protocol.md at 0967a8a): in tag values
    // comma, equals sign and space are escaped; in string field values double quote and backslash; a line feed is not
    // supported in either; an empty tag value is not allowed.
    [Theory]
    [InlineData("string value", "\"string value\"")]
    [InlineData("\"string\" within a string", "\"\\\"string\\\" within a string\"")]
    [InlineData("a,b=c d", "\"a,b=c d\"")]
    [InlineData("\\", "\"\\\\\"")]
    [InlineData("ends with \\", "\"ends with \\\\\"")]
    [InlineData("\\\"", "\"\\\\\\\"\"")]
    [InlineData("two\nlines", "\"two lines\"")]
    [InlineData("Größe 锯 \U0001F527", "\"Größe 锯 \U0001F527\"")]
    [InlineData("true", "\"true\"")]
    [InlineData("5i", "\"5i\"")]
    public void ToLine_AnyTextField_IsQuotedByTheRules(string job, string written) =>
        Assert.Contains($",job={written},", Mapper.ToLine(Cycles.Bare() with { Job = job }), StringComparison.Ordinal);

    [Theory]
    [InlineData("saw 1", "saw\\ 1")]
    [InlineData("a,b=c", "a\\,b\\=c")]
    [InlineData("line\\", "line/")]
    [InlineData("a\\,b", "a/\\,b")]
    [InlineData("#1", "#1")]
    [InlineData("\"quoted\"", "\"quoted\"")]
    public void ToLine_AnySawName_IsEscapedByTheRules(string saw, string written) =>
        Assert.StartsWith($"cycle,gateway=gw\\,1,saw={written},site=North\\ plant ", Mapper.ToLine(Cycles.Bare() with { Saw = saw }), StringComparison.Ordinal);

    // The oracle is the client library's own encoder.
    [Fact]
    public void Write_AnyRecord_IsByteForByteWhatTheLibraryMakesOfThePoint() =>
        Gen.Select(Gen.String, Gen.Double, Gen.Long, Gen.Int[0, 4].Select(i => new[] { "saw 1", "a,b=c", "line\\", "\ud800", "Größe\n锯" }[i]), Gen.Int[0, 9]).Sample(
            (text, number, whole, saw, which) =>
            {
                var full = which < 5 ? Cycles.Full() : Cycles.Bare();
                var record = full with { Saw = saw, Job = text, Notes = "\"" + text + "\\", Material = which == 0 ? "\ud800x\r\n" : "S355", CutTimeS = number, MeanLoadKw = number / 3, PartCount = whole };
                var bytes = new ArrayBufferWriter<byte>();
                Mapper.Write(record, bytes);
                Assert.Equal(Encoding.UTF8.GetBytes(ByTheLibrary(record)), bytes.WrittenSpan.ToArray());
            },
            iter: 3000);

    private static string ByTheLibrary(CycleRecord record)
    {
        var point = PointData.Builder.Measurement("cycle").Tag("site", "North plant").Tag("gateway", "gw,1").Tag("saw", LineText.Tag(record.Saw));
        foreach (var column in CycleColumns.All.Where(column => column.Name is not ("saw" or "started_at")))
        {
            _ = column.Get(record) switch
            {
                string { Length: > 0 } text => point.Field(column.Name, LineText.Field(text)),
                double value when double.IsFinite(value) => point.Field(column.Name, value),
                long value => point.Field(column.Name, value),
                DateTimeOffset time => point.Field(column.Name, time.ToUnixTimeMilliseconds()),
                _ => point,
            };
        }

        point.Field("completed", record.Outcome == CutOutcome.Completed ? 1L : 0L);
        return point.Timestamp(record.StartedAt.ToUnixTimeMilliseconds(), PointMapper.Precision).ToPointData().ToLineProtocol();
    }

    // Series and time: what stands before the first field, and what follows the last.
    private static string Identity(string line) => line[..line.IndexOf(" b", StringComparison.Ordinal)] + line[line.LastIndexOf(' ')..];
}
