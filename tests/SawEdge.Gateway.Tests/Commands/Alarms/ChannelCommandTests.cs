using System.Net;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed class ChannelCommandTests
{
    [Fact]
    public async Task Test_SendsAtOnce_AndSaysThatTheReceiverHasIt_OrItsWords()
    {
        using var asked = new Asked();
        using var receiver = new HttpListener();
        var url = Listen(receiver);
        var file = asked.Configure("channels.json", ("alarms", $$"""
            { "channels": [ { "name": "hook", "kind": "webhook", "url": "{{url}}" }, { "name": "idle", "kind": "webhook", "url": "{{url}}" } ],
              "contacts": [ { "name": "shift lead", "channel": "hook" }, { "name": "head", "channel": "hook" } ] }
            """));

        var run = Task.Run(() => asked.RunRaw("alarm", "test", "hook", "--config", file));
        using var first = JsonDocument.Parse(await AnswerAsync(receiver, 204));
        using var second = JsonDocument.Parse(await AnswerAsync(receiver, 400, "no such room"));
        var (code, output, error) = await run;

        Assert.Equal(("channel.test", "shift lead"), (first.RootElement.GetProperty("type").GetString(), first.RootElement.GetProperty("data").GetProperty("contact").GetString()));
        Assert.Equal("head", second.RootElement.GetProperty("data").GetProperty("contact").GetString());
        Assert.Equal("hook, shift lead: the receiver has taken the test message.", Assert.Single(output));
        Assert.StartsWith("hook, head: ", Assert.Single(error), StringComparison.Ordinal);
        Assert.Contains("no such room", error[0], StringComparison.Ordinal);
        Assert.Equal(2, code);

        Assert.Equal("There is no channel 'hok'; did you mean 'hook'?", Assert.Single(asked.RunRaw("alarm", "test", "hok", "--config", file).Error));
        Assert.Equal("'heed' is no contact of channel hook; did you mean 'head'?", Assert.Single(asked.RunRaw("alarm", "test", "hook", "heed", "--config", file).Error));
        Assert.StartsWith("No contact is told by channel idle,", Assert.Single(asked.RunRaw("alarm", "test", "idle", "--config", file).Error), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Undelivered_IsListed_SentAgainOrDropped()
    {
        using var asked = new Asked();
        var file = asked.Configure("channels.json", ("alarms", """{ "channels": [ { "name": "hook", "kind": "webhook", "url": "https://riverbend.example/hook" }, { "name": "mail", "kind": "webhook", "url": "https://riverbend.example/mail" } ] }"""));
        await using var history = asked.Open();
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(1))], Notices = [Occurrences.Notice("hook", 1), Occurrences.Notice("hook", 1, 2)] }, CancellationToken.None);
        await history.Writer.SaveCursorAsync("hook", 3, [new Refusal(1, "410 gone"), new Refusal(2, "400 no such room"), new Refusal(3, "400 no such room")], CancellationToken.None);
        string[] Run(params string[] arguments) => asked.RunRaw(["alarm", "undelivered", .. arguments, "--config", file]) is var (_, output, error) ? [.. output, .. error] : [];

        var listed = Run();
        Assert.Equal("hook: 3 messages set aside", listed[0]);
        Assert.EndsWith(" state of alarm #1 (north: motor_load_high)", listed[1], StringComparison.Ordinal);
        Assert.Equal("          410 gone", listed[2]);
        Assert.EndsWith(" alarm to shift lead, alarm #1", listed[3], StringComparison.Ordinal);
        Assert.EndsWith(" alarm to shift lead, alarm #1, #2", listed[5], StringComparison.Ordinal);
        Assert.Equal("mail: nothing is set aside.", listed[^1]);

        Assert.Equal("1 message of hook would never be sent; add --yes to drop it. The alarms themselves stay in the history.", Assert.Single(Run("drop", "hook", "--entry", "1")));
        Assert.Equal(3, (await history.Reader.RefusalsAsync("hook")).Count);
        Assert.Equal("hook: 1 message dropped. The alarms themselves stay in the history.", Assert.Single(Run("drop", "hook", "1", "--yes")));
        Assert.Equal("hook: 2 messages put at the end of what is to be sent. The gateway that runs there sends them now.", string.Join(' ', Run("retry", "hook")));
        Assert.Equal([4L, 5L], (await history.Reader.JournalAsync(3, 10)).Select(entry => entry.Sequence));
        Assert.Equal("hook has set nothing aside.", Assert.Single(Run("retry", "hook")));

        Assert.Equal("hook has set nothing aside under number 7; 'sawedge alarm undelivered list hook' shows what it has.", Assert.Single(Run("list", "hook", "-e", "7")));
        Assert.Equal("There is no channel 'hok'; did you mean 'hook'?", Assert.Single(Run("retry", "hok")));
        Assert.Equal("Name the channel: 'sawedge alarm undelivered drop CHANNEL'.", Assert.Single(Run("drop")));
    }

    private static string Listen(HttpListener receiver)
    {
        using var probe = new TcpListener(IPAddress.Loopback, 0);
        probe.Start();
        var url = FormattableString.Invariant($"http://127.0.0.1:{((IPEndPoint)probe.LocalEndpoint).Port}/");
        probe.Stop();
        receiver.Prefixes.Add(url);
        receiver.Start();
        return url;
    }

    private static async Task<string> AnswerAsync(HttpListener receiver, int status, string words = "")
    {
        var call = await receiver.GetContextAsync().WaitAsync(TimeSpan.FromMinutes(3));
        using var reader = new StreamReader(call.Request.InputStream, Encoding.UTF8);
        var body = await reader.ReadToEndAsync();
        call.Response.StatusCode = status;
        if (words.Length > 0)
            await call.Response.OutputStream.WriteAsync(Encoding.UTF8.GetBytes(words));
        call.Response.Close();
        return body;
    }
}
