using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>Rules, contacts and channels as they were written.</summary>
internal sealed record AlarmDraft
{
    /// <summary>The plant's rules.</summary>
    public IReadOnlyList<Setting<RuleDraft>> Rules { get; init; } = [];

    /// <summary>Names of the program's own rules that shall not hold.</summary>
    public IReadOnlyList<Setting<string>> WithoutRules { get; init; } = [];

    /// <summary>The contacts.</summary>
    public IReadOnlyList<Setting<ContactDraft>> Contacts { get; init; } = [];

    /// <summary>The channels.</summary>
    public IReadOnlyList<Setting<ChannelOptions?>> Channels { get; init; } = [];

    /// <summary>The links.</summary>
    public AnswerLinkOptions? AnswerLinks { get; init; }
}

/// <summary>Declares the alarms.</summary>
internal static class AlarmBinding
{
    /// <summary>Rules, contacts and channels.</summary>
    public static ObjectType<AlarmDraft> Type { get; } = new("alarms", "What deserves an alarm, who is told, and by which way. The program brings rules of its own; without contacts nobody is told, and alarms are kept in the history.", o => new AlarmDraft
    {
        Rules = o.Optional("rules", new ListType<RuleDraft>(RuleBinding.Type), "Rules beside the program's own, or in their place.").Value ?? [],
        WithoutRules = o.Optional("withoutRules", new ListType<string>(ValueTypes.Name("blade due")), "Names of the program's own rules that shall not hold.").Value ?? [],
        Contacts = o.Optional("contacts", new ListType<ContactDraft>(ContactBinding.Type), "Who is told.").Value ?? [],
        Channels = o.Optional("channels", new ListType<ChannelOptions?>(ChannelBinding.Type), "The ways out for messages.").Value ?? [],
        AnswerLinks = o.Optional("answerLinks", ChannelBinding.AnswerLinks, "Where people reach the links in messages."),
    });
}
