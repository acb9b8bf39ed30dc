using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>Links that a person answers an alarm with.</summary>
/// <param name="signer">Signs them.</param>
/// <param name="options">Where they lead, and how long they hold.</param>
internal sealed class AnswerLinks(LinkSigner signer, AnswerLinkOptions options)
{
    // "https://plant.example/saws" without this would lose its last part.
    private readonly Uri _base = options.Public.AbsoluteUri.EndsWith('/') ? options.Public : new Uri(options.Public.AbsoluteUri + "/");

    /// <summary>The links for an alarm in a message to a contact; none where nothing is left to be answered.</summary>
    public IReadOnlyList<MessageLink> For(Alarm alarm, string contact, DateTimeOffset now)
    {
        var links = new List<MessageLink>();
        if (!alarm.IsClosed && alarm.State is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged or AlarmState.LatchedUnacknowledged)
            Add(AlarmAction.Acknowledge, "Acknowledge");
        if (alarm.State is AlarmState.Unacknowledged or AlarmState.Acknowledged)
            Add(AlarmAction.Shelve, FormattableString.Invariant($"Shelve for {LinkSigner.ShelfTime.TotalHours:0} h"));
        if (alarm.Verdict == AlarmVerdict.None)
        {
            Add(AlarmAction.Confirm, "It was right");
            Add(AlarmAction.Reject, "Nothing was wrong");
        }

        return links;

        void Add(AlarmAction action, string words) =>
            links.Add(new MessageLink(action, words, new Uri(_base, LinkSigner.Path + signer.Sign(alarm.Number, action, contact, now + options.ValidFor))));
    }
}
