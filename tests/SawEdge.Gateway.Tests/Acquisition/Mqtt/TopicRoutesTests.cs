using System.Globalization;
using Microsoft.Extensions.Time.Testing;
using MQTTnet;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

public sealed class TopicRoutesTests : IDisposable
{
    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero));
    private readonly CollectedLog _log = new();
    private readonly List<MqttSaw> _saws = [];
    private readonly List<SawInbox> _inboxes = [];

    // The examples of MQTT 5.0, section 4.7, as carried in public test suites.
    [Theory]
    [InlineData("sport/tennis/player1/#", "sport/tennis/player1", true)]
    [InlineData("sport/tennis/player1/#", "sport/tennis/player1/ranking", true)]
    [InlineData("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true)]
    [InlineData("sport/#", "sport", true)]
    [InlineData("sport/tennis/+", "sport/tennis/player1", true)]
    [InlineData("sport/tennis/+", "sport/tennis/player2", true)]
    [InlineData("sport/tennis/+", "sport/tennis/player1/ranking", false)]
    [InlineData("sport/+", "sport", false)]
    [InlineData("sport/+", "sport/", true)]
    [InlineData("+/+", "/finance", true)]
    [InlineData("/+", "/finance", true)]
    [InlineData("+", "/finance", false)]
    [InlineData("#", "$SYS/monitor/Clients", false)]
    [InlineData("+/monitor/Clients", "$SYS/monitor/Clients", false)]
    [InlineData("$SYS/#", "$SYS/monitor/Clients", true)]
    [InlineData("$SYS/monitor/+", "$SYS/monitor/Clients", true)]
    public void TheLibrarysComparison_AsTheSpecificationHasIt(string filter, string topic, bool matches) =>
        Assert.Equal(matches, MqttTopicFilterComparer.Compare(topic, filter) == MqttTopicFilterCompareResult.IsMatch);

    // The same examples through the routes, where they can be said with a saw's name in place of the +: what matches is told as
    // that of no saw, and nothing else is.
    [Theory]
    [InlineData("sport/tennis/{saw}", "sport/tennis/player1", true)]
    [InlineData("sport/tennis/{saw}", "sport/tennis/player1/ranking", false)]
    [InlineData("sport/{saw}", "sport", false)]
    [InlineData("sport/{saw}", "sport/", true)]
    [InlineData("{saw}/{saw}", "/finance", true)]
    [InlineData("/{saw}", "/finance", true)]
    [InlineData("{saw}", "/finance", false)]
    [InlineData("{saw}/monitor/Clients", "$SYS/monitor/Clients", false)]
    [InlineData("$SYS/monitor/{saw}", "$SYS/monitor/Clients", true)]
    [InlineData("{saw}", "Saw-1", true)]
    public void Receive_TopicOfNoSaw_IsToldWhereItHasTheForm(string template, string topic, bool isTold)
    {
        Routes(template, template).Receive(topic, "{}"u8, MessageMarks.None);
        Assert.Equal(isTold ? 1 : 0, _log.Count(2211));
        Assert.All(_inboxes, inbox => Assert.Empty(inbox.Drain()));
    }

    [Fact]
    public void Filters_SawsWithTheSameTemplate_ShareOneSubscription()
    {
        var routes = Routes("plant/{saw}/frame", "plant/{saw}/frame", "plant/saw-3/frame", "other/{saw}");
        Assert.Equal(["other/saw-4", "plant/+/frame"], routes.Filters.Order(StringComparer.Ordinal));
        Assert.Equal(["saw-1", "saw-2", "saw-3"], routes.SawsOf("plant/+/frame"));

        for (var saw = 1; saw <= 3; saw++)
            routes.Receive($"plant/saw-{saw}/frame", "{\"load\":1}"u8, MessageMarks.None);
        Assert.Equal([1, 1, 1, 0], _inboxes.Select(inbox => inbox.Drain().Count));
        Assert.Empty(_log.Entries);
    }

    [Fact]
    public void Filters_NameThatIsNoWholeLevel_IsSubscribedToInFull() =>
        Assert.Equal(["plant/cell_saw-1", "plant/cell_saw-2"], Routes("plant/cell_{saw}", "plant/cell_{saw}").Filters.Order(StringComparer.Ordinal));

    [Fact]
    public void Receive_AMillionNamesOfNoSaw_AFewAreToldAndNoneKept()
    {
        var routes = Routes("plant/{saw}/frame", "plant/{saw}/frame");
        void Send(int from, int count)
        {
            for (var i = from; i < from + count; i++)
                routes.Receive(string.Create(CultureInfo.InvariantCulture, $"plant/\u001b[31m{i}/frame"), "{}"u8, MessageMarks.None);
        }

        Send(0, 1000);
        var before = GC.GetTotalMemory(forceFullCollection: true);
        Send(1000, 1_000_000);
        Assert.InRange(GC.GetTotalMemory(forceFullCollection: true) - before, long.MinValue, 50_000_000);
        Assert.Equal(TopicRoutes.MostUnknown, _log.Count(2211));
        Assert.Equal(1, _log.Count(2212));
        Assert.DoesNotContain(_log.Entries, entry => entry.Text.Contains('\u001b', StringComparison.Ordinal));
    }

    public void Dispose() => _saws.ForEach(saw => saw.Dispose());

    private TopicRoutes Routes(params string[] templates)
    {
        foreach (var template in templates)
        {
            var name = $"saw-{_saws.Count + 1}";
            var source = Published.Json(SawTopic.Of(template, name)!, time: null) with { FrameTemplate = SawTopic.TemplateOf(template) };
            _inboxes.Add(new SawInbox(name));
            _saws.Add(new MqttSaw(Published.Broker(), Published.Saw(source, name), _inboxes[^1], new FrameClock(_time), _time, _log.For<MqttBrokerSource>()));
        }

        return new TopicRoutes(_saws, "hall", _log.For<MqttBrokerSource>());
    }
}
