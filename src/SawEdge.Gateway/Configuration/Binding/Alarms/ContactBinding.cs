using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>A contact as it was written: what it refers to is resolved once everything is known.</summary>
/// <param name="Contact">The contact without subjects, rules and hours.</param>
/// <param name="Name">Its name.</param>
/// <param name="Channel">The channel.</param>
/// <param name="To">Its addresses.</param>
/// <param name="Saws">The saws it is told of.</param>
/// <param name="Groups">The groups it is told of.</param>
/// <param name="Rules">The rules it is told of.</param>
/// <param name="Hours">When it is told.</param>
/// <param name="EscalateTo">Who is told where nobody acknowledges.</param>
internal sealed record ContactDraft(
    Contact Contact,
    Setting<string> Name,
    Setting<string> Channel,
    Setting<IReadOnlyList<Setting<string>>?> To,
    Setting<IReadOnlyList<Setting<string>>?> Saws,
    Setting<IReadOnlyList<Setting<string>>?> Groups,
    Setting<IReadOnlyList<Setting<string>>?> Rules,
    Setting<IReadOnlyList<Setting<WorkingSpan>>?> Hours,
    Setting<string?> EscalateTo);

/// <summary>Declares a contact.</summary>
internal static class ContactBinding
{
    private static readonly ListType<string> Addresses = new(ChannelBinding.Address, 1, "write addresses, for example [ \"maintenance@riverbend.example\" ]");
    private static readonly ListType<string> SawNames = RuleBinding.Names("saw-1");
    private static readonly ListType<string> GroupNames = RuleBinding.Names("bay-1");
    private static readonly ListType<string> RuleNames = RuleBinding.Names("motor hot");

    /// <summary>One contact.</summary>
    public static ObjectType<ContactDraft> Type { get; } = new("contact", "Who is told of which alarms, and when.", Bind);

    private static ContactDraft Bind(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("maintenance"), "Name, unique.");
        var channel = o.Required("channel", ValueTypes.Name("maintenance-mail"), "Name of the channel that messages leave by, one of \"channels\".");
        var to = o.Optional("to", Addresses, "Addresses, where the channel is one for e-mail.");
        var least = o.Default("least", RuleBinding.Severity, "low", "Least severity of which it is told.");
        var saws = o.Optional("saws", SawNames, "The saws of which it is told, with the devices and brokers that they come from. Left out, as \"groups\": everything, the gateway included.");
        var groups = o.Optional("groups", GroupNames, "The groups of saws of which it is told.");
        var rules = o.Optional("rules", RuleNames, "The rules of which it is told, by name. Left out: all.");
        var hours = o.Optional("hours", HoursBinding.Type, "When it is told. Left out: always. What comes outside and is still open when the hours begin is told then.");
        var digest = o.Default("digest", ValueTypes.Time("0 s", "24 h", ("0 s", "12 h")), "0 s", "For how long alarms are gathered into one message. 0 s: each at once.");
        var cleared = o.Default("tellCleared", ValueTypes.Flag, "false", "Whether it is told that the condition of an alarm is gone.");
        var remind = o.OptionalValue("remindEvery", ValueTypes.Time("1 min", "720 h", ("10 min", "720 h")), "How often it is reminded of an alarm that nobody acknowledges. Left out: never.");
        var only = o.Default("onlyEscalated", ValueTypes.Flag, "false", "Whether it is told only of what others did not acknowledge.");
        var after = o.OptionalValue("escalateAfter", ValueTypes.Time("1 min", "720 h"), "After how long without acknowledgement another contact is told. Left out: never.");
        var escalateTo = o.Optional("escalateTo", ValueTypes.Name("shift-lead"), "The contact that is told then.");

        if (after.IsStated && !escalateTo.IsStated)
            o.Error(after, "says when, but nobody is named who is told then; write \"escalateTo\" as well");
        if (escalateTo.IsStated && !after.IsStated)
            o.Error(escalateTo, "says who, but not when; write \"escalateAfter\" as well, for example \"30 min\"");
        if (after is { IsStated: true, IsGood: true } && digest.IsGood && after.Value <= digest.Value)
            o.Warning(after, "is over before the digest is sent, so the other is told first; write more than \"digest\"");
        if (remind is { IsStated: true, IsGood: true } && digest.IsGood && remind.Value < digest.Value)
            o.Warning(remind, "is shorter than \"digest\", so that reminders fall due before the message is sent; write more");
        var contact = new Contact
        {
            Name = name,
            Channel = channel,
            Least = least,
            Digest = digest,
            TellCleared = cleared,
            RemindEvery = remind,
            OnlyEscalated = only,
            EscalateAfter = after,
            EscalateTo = escalateTo.Value ?? "",
        };
        return new ContactDraft(contact, name, channel, to, saws, groups, rules, hours, escalateTo);
    }
}
