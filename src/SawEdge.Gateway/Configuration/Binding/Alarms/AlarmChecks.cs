using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>What only shows when rules, contacts, channels and destinations are seen together.</summary>
internal static class AlarmChecks
{
    /// <summary>Runs all of them.</summary>
    public static void Run(GatewayOptions options, AlarmDraft draft, IReadOnlyList<AlarmRule> own, Findings findings)
    {
        var rules = draft.Rules.Where(rule => rule.Value is not null).Select(rule => rule.Value.Name).ToList();
        Unique(findings, [], rules, "rule");
        foreach (var name in rules.Where(name => name.IsGood && own.All(rule => rule.Name != name.Value)))
        {
            if (own.FirstOrDefault(rule => string.Equals(rule.Name, name.Value, StringComparison.OrdinalIgnoreCase)) is { } same)
                findings.Error(name.Path, $"{Words.Quoted(name)} differs only in capitals from the program's own rule '{same.Name}'; write that name to take its place, or another");
        }

        Unique(findings, [], [.. Contacts(draft).Select(contact => contact.Name)], "contact");
        // Destinations and channels each keep a place in one journal, by their names.
        var channels = draft.Channels
            .Select((channel, i) => (channel.Value?.Name, Path: $"alarms.channels[{i}].name"))
            .Where(channel => !string.IsNullOrEmpty(channel.Name))
            .Select(channel => new Setting<string>(channel.Name!, channel.Path, true, true))
            .ToList();
        var destinations = options.Influx.Select((server, i) => (server?.Name, Path: $"influx[{i}]")).Where(server => !string.IsNullOrEmpty(server.Name)).Select(server => (server.Name!, server.Path)).ToList();
        Unique(findings, destinations, channels, "channel");

        Brokers(options, draft, findings);
        SameTopics(draft, findings);
        Channels(draft, findings);
        Escalation(draft, findings);
    }

    private static IEnumerable<ContactDraft> Contacts(AlarmDraft draft) => draft.Contacts.Where(contact => contact.Value is not null).Select(contact => contact.Value);

    private static void Unique(Findings findings, IReadOnlyList<(string Name, string Path)> others, IReadOnlyList<Setting<string>> names, string what)
    {
        var first = new Dictionary<string, (string Name, string Path)>(StringComparer.OrdinalIgnoreCase);
        foreach (var other in others)
            first.TryAdd(other.Name, other);
        foreach (var name in names.Where(name => name.IsGood))
        {
            if (first.TryAdd(name, (name, name.Path[..name.Path.LastIndexOf('.')])))
                continue;
            var (earlier, path) = first[name];
            findings.Error(name.Path, $"{Words.Quoted(name)} {(earlier == name.Value ? "is the name of" : "differs only in capitals from the name of")} {path} already; give each {what} its own name");
        }
    }

    private static void Brokers(GatewayOptions options, AlarmDraft draft, Findings findings)
    {
        var known = options.MqttBrokers.Select(broker => broker?.Name).OfType<string>().ToList();
        for (var i = 0; i < draft.Channels.Count; i++)
        {
            if (draft.Channels[i].Value is MqttChannelOptions { Broker: { Length: > 0 } name } && !known.Contains(name))
                findings.Error($"alarms.channels[{i}].broker", $"there is no broker {Words.Quoted(name)}; {(known.Count == 0 ? "describe it under \"brokers\"" : Words.DidYouMean(name, known))}");
        }
    }

    /// <summary>Two channels below one topic would each overwrite what the other says.</summary>
    private static void SameTopics(AlarmDraft draft, Findings findings)
    {
        var first = new Dictionary<(string, string), int>();
        for (var i = 0; i < draft.Channels.Count; i++)
        {
            if (draft.Channels[i].Value is MqttChannelOptions { Broker.Length: > 0, Root.Length: > 0 } states && !first.TryAdd((states.Broker, states.Root), i))
                findings.Warning($"alarms.channels[{i}]", $"tells the same as alarms.channels[{first[(states.Broker, states.Root)]}], below the same topic; give it another \"root\", or leave it out");
        }
    }

    private static void Channels(AlarmDraft draft, Findings findings)
    {
        var channels = draft.Channels.Where(channel => !string.IsNullOrEmpty(channel.Value?.Name)).Select(channel => channel.Value!).ToList();
        // A channel that could not be read at all may be the one that is meant.
        var isWhole = channels.Count == draft.Channels.Count;
        foreach (var contact in Contacts(draft).Where(contact => contact.Channel.IsGood))
        {
            // Of two channels of one name nobody knows which is meant.
            var meant = channels.Where(channel => channel.Name == contact.Channel.Value).ToList();
            switch (meant.Count == 1 ? meant[0] : null)
            {
                case null when isWhole && meant.Count == 0:
                    findings.Error(contact.Channel.Path, $"there is no channel {Words.Quoted(contact.Channel)}; {(channels.Count == 0 ? "describe it under \"channels\"" : Words.DidYouMean(contact.Channel, [.. channels.Select(channel => channel.Name).Distinct()]))}");
                    break;
                case EmailOptions when !contact.To.IsStated:
                    findings.Error($"{Parent(contact)}.to", "is missing; an e-mail needs addresses, for example [ \"maintenance@riverbend.example\" ]");
                    break;
                case WebhookOptions when contact.To.IsStated:
                    findings.Error(contact.To.Path, $"addresses belong to e-mail, and {Words.Quoted(contact.Channel)} is a webhook; leave them out");
                    break;
                case MqttChannelOptions:
                    findings.Error(contact.Channel.Path, $"{Words.Quoted(contact.Channel)} tells the state of every alarm over MQTT, whoever reads it; a contact needs a channel for e-mail or a webhook");
                    break;
            }
        }

        // Where a contact could not be read, nothing can be said about what it would have used.
        if (draft.Contacts.Any(contact => contact.Value is null || !contact.Value.Channel.IsGood))
            return;
        for (var i = 0; i < draft.Channels.Count; i++)
        {
            if (draft.Channels[i].Value is { Name.Length: > 0 } and not MqttChannelOptions && Contacts(draft).All(contact => contact.Channel.Value != draft.Channels[i].Value!.Name))
                findings.Warning($"alarms.channels[{i}].name", $"no contact uses {Words.Quoted(draft.Channels[i].Value!.Name)}");
        }
    }

    private static void Escalation(AlarmDraft draft, Findings findings)
    {
        var contacts = Contacts(draft).Where(contact => contact.Name.IsGood).GroupBy(contact => contact.Name.Value).ToDictionary(group => group.Key, group => group.First());
        foreach (var contact in contacts.Values.Where(contact => contact.EscalateTo is { IsStated: true, IsGood: true }))
        {
            if (!contacts.ContainsKey(contact.EscalateTo.Value!))
            {
                var others = contacts.Keys.Where(name => name != contact.Name.Value).ToList();
                findings.Error(contact.EscalateTo.Path, $"there is no contact {Words.Quoted(contact.EscalateTo.Value!)}; {(others.Count == 0 ? "describe it under \"contacts\"" : Words.DidYouMean(contact.EscalateTo.Value!, others))}");
                continue;
            }

            var way = new List<string> { contact.Name };
            for (var next = contact; next.EscalateTo.Value is { } name && contacts.TryGetValue(name, out var other) && !way.Contains(name); next = other)
                way.Add(name);
            // Told once for each circle: at the contact of it that stands first.
            if (contacts[way[^1]].EscalateTo.Value == contact.Name.Value && contacts.Keys.First(way.Contains) == contact.Name.Value)
                findings.Error(contact.EscalateTo.Path, way.Count == 1 ? "names the contact itself; name another" : $"goes round in a circle: {string.Join(", ", way)}, {contact.Name.Value}; end it somewhere");
        }

        foreach (var contact in contacts.Values.Where(contact => contact.Contact.OnlyEscalated && contacts.Values.All(other => other.EscalateTo.Value != contact.Name.Value)))
            findings.Warning($"{Parent(contact)}.onlyEscalated", "no contact names this one in \"escalateTo\", so it is never told anything");
    }

    private static string Parent(ContactDraft contact) => contact.Name.Path[..contact.Name.Path.LastIndexOf('.')];
}
