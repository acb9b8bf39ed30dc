using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification.Mail;
using SawEdge.Gateway.Notification.Messages;
using SawEdge.Gateway.Notification.Mqtt;
using SawEdge.Gateway.Notification.Webhooks;

namespace SawEdge.Gateway.Notification;

/// <summary>Makes the channels of a configuration.</summary>
public static class Channels
{
    /// <summary>One loop for each channel, in the order of the configuration.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="reader">Reads the history.</param>
    /// <param name="writer">Keeps the cursors, and wakes the loops.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where trouble is said.</param>
    /// <exception cref="IOException">The key of the links cannot be read or made.</exception>
    public static IReadOnlyList<ChannelLoop> Build(GatewayOptions options, HistoryReader reader, HistoryWriter writer, TimeProvider time, ILogger<ChannelLoop> logger)
    {
        var signer = options.Alarms.AnswerLinks is null ? null : LinkSigner.Open(options.DataFolder);
        return [.. options.Alarms.Channels.Select(channel => new ChannelLoop(channel, Outlet(options, channel, signer, reader, time), reader, writer, time, logger))];
    }

    /// <summary>Tries a channel at once, past the journal: one try, nothing stored.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="channel">Name of the channel.</param>
    /// <param name="contact">Name of the contact that it goes to.</param>
    /// <param name="reader">Reads the history; nothing of it is needed for a test.</param>
    /// <param name="time">The clock.</param>
    /// <param name="cancellation">Ends the try.</param>
    /// <returns>Null where the receiver has it; otherwise its words or what went wrong, a sentence.</returns>
    /// <exception cref="ArgumentException">There is no channel of that name.</exception>
    public static async Task<string?> TryAsync(GatewayOptions options, string channel, string contact, HistoryReader reader, TimeProvider time, CancellationToken cancellation)
    {
        var known = options.Alarms.Channels.FirstOrDefault(candidate => candidate.Name == channel) ?? throw new ArgumentException($"There is no channel '{channel}'.", nameof(channel));
        await using var outlet = Outlet(options, known, signer: null, reader, time);
        var now = time.GetUtcNow();
        var entry = new JournalEntry(0, JournalKinds.Notice, channel, now, null) { Notice = new StoredNotice(0, new Notice(now, NoticeKind.Test, contact, channel, [])) };
        var result = await outlet.SendAsync([entry], waited: false, cancellation);
        return result.Verdict == SendVerdict.Delivered ? result.PartlyRefused is { Length: > 0 } partly ? partly : null : $"{outlet.Receiver}: {result.Words}";
    }

    private static IOutlet Outlet(GatewayOptions options, ChannelOptions channel, LinkSigner? signer, HistoryReader reader, TimeProvider time)
    {
        if (channel is MqttChannelOptions mqtt)
        {
            var broker = options.MqttBrokers.FirstOrDefault(candidate => candidate.Name == mqtt.Broker)
                ?? throw new InvalidOperationException($"Channel '{mqtt.Name}' names the broker '{mqtt.Broker}', which the configuration does not have.");
            return new MqttOutlet(mqtt, broker, options.Site, options.Gateway, reader, time);
        }

        IMessageSender sender = channel switch
        {
            WebhookOptions webhook => new WebhookSender(webhook, time),
            EmailOptions email => new EmailSender(email, time),
            _ => throw new InvalidOperationException($"Channel '{channel.Name}' is of no kind that this program knows."),
        };
        var links = signer is not null && options.Alarms.AnswerLinks is { } answer ? new AnswerLinks(signer, answer) : null;
        return new MessageOutlet(channel.Name, sender, new MessageBuilder(MessageStyle.Of(options), links), reader, time);
    }
}
