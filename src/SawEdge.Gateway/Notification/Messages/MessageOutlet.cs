using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification.Pictures;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>Takes the notices of one channel, writes them with the alarms as they are at that moment, and hands them to a sender.</summary>
internal sealed class MessageOutlet(string channel, IMessageSender sender, MessageBuilder builder, HistoryReader reader, TimeProvider time) : IOutlet
{
    // A digest with a picture for each would be a heavy mail.
    private const int MostPictures = 3;

    /// <inheritdoc/>
    public string Receiver => sender.Receiver;

    /// <inheritdoc/>
    public Gathering Gathering => sender.Merges ? Gathering.Merge : Gathering.None;

    /// <inheritdoc/>
    public bool Takes(JournalEntry entry) => entry.Notice?.Notice.Channel == channel;

    /// <inheritdoc/>
    public string GroupOf(JournalEntry entry) => entry.Notice!.Notice.Contact;

    /// <inheritdoc/>
    public async Task<SendResult> SendAsync(IReadOnlyList<JournalEntry> entries, bool waited, CancellationToken cancellation)
    {
        var notices = entries.Select(entry => entry.Notice!).ToList();
        var material = new List<AlarmMaterial>();
        foreach (var number in notices.SelectMany(stored => stored.Notice.Alarms).Distinct())
        {
            if (await reader.AlarmAsync(number, cancellation) is not { } alarm)
                continue;
            var cycle = alarm.CycleId is null ? null : await reader.CycleAsync(alarm.CycleId, cancellation);
            material.Add(new AlarmMaterial(alarm, cycle));
        }

        if (!sender.ShowsPictures)
            return await sender.SendAsync(builder.Build(notices, material, waited, time.GetUtcNow()), cancellation);
        foreach (var (index, item) in material.Index().OrderByDescending(pair => pair.Item.Alarm.Severity).Take(MostPictures).ToList())
            material[index] = item with { Picture = await PictureAsync(item, cancellation) };
        return await sender.SendAsync(builder.Build(notices, material, waited, time.GetUtcNow()), cancellation);
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => sender.DisposeAsync();

    private async Task<Picture?> PictureAsync(AlarmMaterial item, CancellationToken cancellation)
    {
        if (item.Cycle is not { } cycle)
            return null;
        try
        {
            if (await reader.AssessmentAsync(cycle.CycleId, cancellation) is not { Profile: { } profile })
                return null;
            var whole = profile.ByDepth ? (await reader.ProfileAsync(cycle.CycleId, cancellation))?.DepthMm ?? double.NaN : cycle.CutTimeS ?? double.NaN;
            return LoadPicture.Draw(profile, whole, builder.Style.Units);
        }
        catch (InvalidDataException)
        {
            // Stored by a newer version or damaged: whoever asks for the cut is told so. An alarm without its picture is still an alarm.
            return null;
        }
    }
}
