using System.Net;
using System.Text;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>Any text that a controller or a person can send, into a real server and back: nothing is refused, nothing is another point, and every text is the same.</summary>
public sealed class HostileTextTests
{
    private const string Database = "plant";
    private const int Texts = 3000;

    // What the protocol, servers or terminals treat in their own way, and letters of other scripts.
    private static readonly string[] Pieces =
    [
        "\"", "\\", "\\\\", ",", "=", " ", "\t", "\n", "\r", "\r\n", "\0", "\u0001", "\u001b[31m", "\u007f", "\u0085", "\u2028", "\u2029", "\v", "\f", "'", "`", "#", "$", "%s", "{", "}", "/", "//", "--", ";",
        "a", "Z", "0", "5i", "true", "NaN", "null", "Größe", "锯", "\U0001F527", "\U0001F468\u200d\U0001F527", "e\u0301", "\u202e", "\u200f", "عمل", "עבודה", "\ud800", "\udc00", "\udc00\ud800", "\ufeff", "\uffff", "\ufffd", "x 1\ncycle,saw=evil frames=1i 1",
    ];

    [PeerTheory(InfluxServer.Program)]
    [InlineData(1)]
    [InlineData(2)]
    public async Task AnyText_ComesBackAsItWas(int seed)
    {
        await using var server = await InfluxServer.StartAsync(Database);
        using var http = new HttpClient();
        var random = new Random(seed);
        var texts = Enumerable.Range(0, Texts).Select(i => i < Pieces.Length ? Pieces[i] : string.Concat(Enumerable.Range(0, random.Next(1, 8)).Select(_ => Pieces[random.Next(Pieces.Length)]))).ToList();
        var cycles = new PointMapper("North plant", "gw1");
        var stops = new StopPointMapper("North plant", "gw1", LineText.Tag);
        var lines = new List<string>();
        for (var i = 0; i < texts.Count; i++)
        {
            lines.Add(cycles.ToLine(Cycles.Make("saw 1", i) with { Job = texts[i], Notes = texts[^(i + 1)], Blade = texts[i] }));
            var period = new Period(Cycles.Start.AddHours(i), Cycles.Start.AddHours(i + 1));
            lines.AddRange(stops.ToLines(new AccountHour("saw 1", period, new AccountPart(OeeBuckets.Total([]), CounterSum.None), 1) { FormerStops = [(StopClass.Down, texts[i])] }));
        }

        Assert.All(lines, line => Assert.DoesNotContain('\n', line));
        using var body = new ByteArrayContent(Encoding.UTF8.GetBytes(string.Join('\n', lines)));
        using var answer = await http.PostAsync(new Uri(server.Url, $"/write?db={Database}&precision=ms"), body);
        Assert.Equal((HttpStatusCode.NoContent, ""), (answer.StatusCode, await answer.Content.ReadAsStringAsync()));

        var found = (await server.QueryAsync("SELECT job, notes, blade FROM cycle", Database)).ToDictionary(row => row["time"].GetInt64());
        Assert.Equal(texts.Count, found.Count);
        for (var i = 0; i < texts.Count; i++)
        {
            var row = found[Cycles.Make("saw 1", i).StartedAt.ToUnixTimeMilliseconds()];
            Assert.Equal((Field(texts[i]), Field(texts[^(i + 1)]), Field(texts[i])), (row["job"].GetString(), row["notes"].GetString(), row["blade"].GetString()));
        }

        // A tag has a value: of a text that is nothing but what a tag cannot hold, a stand-in.
        var reasons = (await server.QueryAsync("SELECT time_s, reason FROM stop", Database)).ToDictionary(row => row["time"].GetInt64(), row => row["reason"].GetString());
        Assert.Equal(texts.Count, reasons.Count);
        for (var i = 0; i < texts.Count; i++)
            Assert.Equal((i, Encode(LineText.Tag(texts[i]))), (i, reasons[Cycles.Start.AddHours(i).ToUnixTimeMilliseconds()]));
        Assert.Equal(["cycle", "stop"], (await server.QueryAsync("SHOW MEASUREMENTS", Database)).Select(row => row["name"].GetString()));
    }

    // A field keeps everything but line ends; half of a surrogate pair is no Unicode.
    private static string Field(string text) => Encode(text.Replace("\r\n", " ", StringComparison.Ordinal).Replace('\n', ' ').Replace('\r', ' '));

    private static string Encode(string text) => Encoding.UTF8.GetString(Encoding.UTF8.GetBytes(text));
}
