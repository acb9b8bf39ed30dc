using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>
/// Puts the alarms together once saws, groups and the time zone are known, and says what refers to nothing. Parts with mistakes of
/// their own are left out, so that one mistake does not cause a second finding.
/// </summary>
internal sealed class AlarmResolution
{
    private readonly GatewayOptions _options;
    private readonly AlarmDraft _draft;
    private readonly IReadOnlyList<AlarmRule> _own;
    private readonly Findings _findings;
    private readonly IReadOnlyList<SawOptions> _saws;

    private AlarmResolution(GatewayOptions options, AlarmDraft draft, IReadOnlyList<AlarmRule> own, Findings findings)
    {
        _options = options;
        _draft = draft;
        _own = own;
        _findings = findings;
        _saws = [.. options.Saws.Where(saw => !string.IsNullOrEmpty(saw?.Name))];
    }

    /// <summary>Puts the alarms together.</summary>
    /// <param name="options">Everything else.</param>
    /// <param name="draft">The alarms as they were written.</param>
    /// <param name="own">The program's own rules.</param>
    /// <param name="findings">Where mistakes go.</param>
    public static AlarmOptions Run(GatewayOptions options, AlarmDraft draft, IReadOnlyList<AlarmRule> own, Findings findings)
    {
        AlarmChecks.Run(options, draft, own, findings);
        var resolution = new AlarmResolution(options, draft, own, findings);
        var rules = resolution.Rules();
        var contacts = resolution.Contacts(rules);
        return new AlarmOptions { Rules = rules, Contacts = contacts, Channels = resolution.Channels(), AnswerLinks = draft.AnswerLinks };
    }

    private List<AlarmRule> Rules()
    {
        var without = new HashSet<string>(StringComparer.Ordinal);
        foreach (var name in _draft.WithoutRules.Where(name => name.IsGood))
        {
            if (_own.All(rule => rule.Name != name.Value))
                _findings.Error(name.Path, $"the program has no rule {Words.Quoted(name)} of its own; {Words.DidYouMean(name, [.. _own.Select(rule => rule.Name)])}");
            else if (_draft.Rules.Any(rule => rule.Value?.Name.Value == name.Value))
                _findings.Error(name.Path, $"\"rules\" holds a rule {Words.Quoted(name)} that takes its place; leave the name out here, or the rule there");
            without.Add(name);
        }

        var plant = new List<AlarmRule>();
        foreach (var draft in _draft.Rules.Where(rule => rule.Value is not null).Select(rule => rule.Value))
        {
            var subjects = Subjects(draft);
            if (draft.Rule is not { } rule)
                continue;
            plant.Add(rule with { Subjects = subjects, Hours = HoursBinding.Of(draft.Hours, _options.TimeZone) });
        }

        // In the place of the program's own rule stands the plant's of the same name.
        var byName = plant.GroupBy(rule => rule.Name).ToDictionary(group => group.Key, group => group.First());
        return
        [
            .. _own.Where(rule => !without.Contains(rule.Name)).Select(rule => byName.GetValueOrDefault(rule.Name, rule)),
            .. plant.Where(rule => _own.All(other => other.Name != rule.Name)),
        ];
    }

    private HashSet<string>? Subjects(RuleDraft draft)
    {
        if (draft.Variable is not { IsGood: true, Value: { } variable })
            return null;
        if (variable.Subject == AlarmSubjectKind.Saw)
        {
            if (draft.Names.IsStated)
                _findings.Error(draft.Names.Path, $"{variable.Name} is about a saw; write \"saws\" or \"groups\"");
            var saws = Saws(draft.Saws, draft.Groups);
            RuleNeeds.Check(draft, variable, [.. _saws.Where(saw => saw.Source is not null && (saws is null || saws.Contains(saw.Name)))], _findings);
            return saws;
        }

        foreach (var wrong in new[] { draft.Saws, draft.Groups }.Where(setting => setting.IsStated))
            _findings.Error(wrong.Path, $"{variable.Name} is about {About(variable.Subject)}; {(variable.Subject == AlarmSubjectKind.Gateway ? "leave it out" : "write \"names\"")}");
        if (!draft.Names.IsStated)
            return null;
        if (variable.Subject == AlarmSubjectKind.Gateway)
        {
            _findings.Error(draft.Names.Path, $"{variable.Name} is about the gateway, of which there is one; leave it out");
            return null;
        }

        string[] known = variable.Subject switch
        {
            AlarmSubjectKind.Source => [.. _options.ModbusDevices.Select(device => device?.Name).Concat(_options.MqttBrokers.Select(broker => broker?.Name)).OfType<string>()],
            AlarmSubjectKind.Destination => [.. _options.Influx.Select(server => server?.Name).OfType<string>()],
            _ => [.. _draft.Channels.Select(channel => channel.Value?.Name).OfType<string>()],
        };
        return Known(draft.Names, known, variable.Subject == AlarmSubjectKind.Source ? "device or broker" : variable.Subject.ToName());
    }

    /// <summary>A kind of subject in a sentence.</summary>
    public static string About(AlarmSubjectKind kind) => kind switch
    {
        AlarmSubjectKind.Source => "a device or broker",
        AlarmSubjectKind.Gateway => "the gateway",
        _ => $"a {kind.ToName()}",
    };

    private HashSet<string>? Saws(Setting<IReadOnlyList<Setting<string>>?> saws, Setting<IReadOnlyList<Setting<string>>?> groups)
    {
        if (!saws.IsStated && !groups.IsStated)
            return null;
        var names = Known(saws, [.. _saws.Select(saw => saw.Name)], "saw");
        var known = _saws.Select(saw => saw.Group).OfType<string>().Distinct().ToArray();
        var stated = known.Length > 0 ? Known(groups, known, "group") : [];
        if (known.Length == 0 && groups is { IsStated: true, IsGood: true })
            _findings.Error(groups.Path, "no saw belongs to a group; write \"group\" at the saws, or name them in \"saws\"");
        names.UnionWith(_saws.Where(saw => saw.Group is not null && stated.Contains(saw.Group)).Select(saw => saw.Name));
        return names;
    }

    private HashSet<string> Known(Setting<IReadOnlyList<Setting<string>>?> stated, IReadOnlyList<string> known, string what)
    {
        var found = new HashSet<string>(StringComparer.Ordinal);
        foreach (var name in (stated.Value ?? []).Where(name => name.IsGood))
        {
            if (known.Contains(name.Value))
                found.Add(name);
            else
                _findings.Error(name.Path, $"there is no {what} {Words.Quoted(name)}{(known.Count == 0 ? "" : $"; {Words.DidYouMean(name, known)}")}");
        }

        return found;
    }

    private List<Contact> Contacts(List<AlarmRule> rules)
    {
        var ruleNames = rules.Select(rule => rule.Name).Concat(_draft.Rules.Select(rule => rule.Value?.Name.Value).OfType<string>()).Distinct().ToList();
        var contacts = new List<Contact>();
        foreach (var draft in _draft.Contacts.Where(contact => contact.Value is not null).Select(contact => contact.Value))
        {
            var saws = Saws(draft.Saws, draft.Groups);
            // Whoever is told of a saw is told of what it comes from: an alarm of a source silences its saws.
            saws?.UnionWith(_saws.Where(saw => saws.Contains(saw.Name)).Select(SourceOf).OfType<string>().ToList());
            contacts.Add(draft.Contact with
            {
                Subjects = saws,
                Rules = draft.Rules.IsStated ? Known(draft.Rules, ruleNames, "rule in force") : null,
                Hours = HoursBinding.Of(draft.Hours, _options.TimeZone),
            });
        }

        return contacts;
    }

    private static string? SourceOf(SawOptions saw) => saw.Source switch
    {
        ModbusSourceOptions modbus => modbus.Device,
        MqttSourceOptions mqtt => mqtt.Broker,
        SparkplugSourceOptions sparkplug => sparkplug.Broker,
        _ => null,
    };

    private List<ChannelOptions> Channels() =>
    [
        .. _draft.Channels.Select(channel => channel.Value).OfType<ChannelOptions>().Select(channel => channel is not EmailOptions mail ? channel : mail with
        {
            Recipients = _draft.Contacts
                .Where(contact => contact.Value is { Name.IsGood: true, To.Value: not null } && contact.Value.Channel.Value == mail.Name)
                .GroupBy(contact => contact.Value.Name.Value)
                .ToDictionary(group => group.Key, group => (IReadOnlyList<string>)[.. group.First().Value.To.Value!.Select(address => address.Value)]),
        }),
    ];
}
