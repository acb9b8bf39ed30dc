using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary><c>alarm test</c>: one message through a channel, past the journal; nothing is stored.</summary>
/// <param name="options">The configuration.</param>
/// <param name="output">Where to say what went well.</param>
/// <param name="error">Where to say what did not.</param>
/// <param name="time">The clock.</param>
internal sealed class ChannelTest(GatewayOptions options, TextWriter output, TextWriter error, TimeProvider time)
{
    /// <summary>Sends.</summary>
    /// <param name="name">The channel.</param>
    /// <param name="contact">The contact; null: all of the channel.</param>
    /// <param name="cancellation">Ends the try.</param>
    /// <returns>Whether all that was sent was taken.</returns>
    /// <exception cref="CommandException">There is no such channel or contact.</exception>
    public async Task<bool> RunAsync(string name, string? contact, CancellationToken cancellation)
    {
        var channels = options.Alarms.Channels;
        var channel = channels.FirstOrDefault(known => known.Name == name)
            ?? throw new CommandException($"There is no channel {Words.Quoted(name)}; {(channels.Count == 0 ? "the configuration has none." : NamedFolder.Hint(name, [.. channels.Select(known => known.Name)]))}");
        var reader = HistoryReader.OfFolder(options.DataFolder);
        var good = true;
        foreach (var to in Contacts(channel, contact))
        {
            var about = to.Length == 0 ? name : $"{name}, {to}";
            if (await Channels.TryAsync(options, name, to, reader, time, cancellation) is not { } problem)
            {
                await output.WriteLineAsync($"{about}: the receiver has taken the test message.");
                continue;
            }

            good = false;
            await error.WriteLineAsync($"{about}: {problem}");
        }

        return good;
    }

    private IReadOnlyList<string> Contacts(ChannelOptions channel, string? contact)
    {
        // Whoever reads there, reads the states of all alarms.
        if (channel is MqttChannelOptions)
            return contact is null ? [""] : throw new CommandException($"{channel.Name} publishes states for whoever reads them there; leave the contact out.");
        IReadOnlyList<string> own = [.. options.Alarms.Contacts.Where(known => known.Channel == channel.Name).Select(known => known.Name)];
        if (own.Count == 0)
            throw new CommandException($"No contact is told by channel {channel.Name}, so nobody would be sent a message; name it in \"contacts\" of the configuration.");
        if (contact is null)
            return own;
        return own.Contains(contact) ? [contact] : throw new CommandException($"{Words.Quoted(contact)} is no contact of channel {channel.Name}; {NamedFolder.Hint(contact, own)}");
    }
}
