using SawEdge.Core.Alarms;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Hosting;

/// <summary>What the alarms look at each second besides the saws' own data.</summary>
internal static class GatewayProbes
{
    private static readonly TimeSpan LostWindow = TimeSpan.FromMinutes(10);

    /// <summary>Whether data come: of each saw, and of each device or broker.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="presences">What is heard of each saw, by its name.</param>
    public static IEnumerable<AlarmProbe> Communication(GatewayOptions options, IReadOnlyDictionary<string, SawPresence> presences)
    {
        foreach (var source in options.Saws.GroupBy(SourceLoops.SourceOf, saw => presences[saw.Name], StringComparer.Ordinal))
        {
            SawPresence[] saws = [.. source];
            yield return new AlarmProbe(Communication("disconnected"), new AlarmSubject(AlarmSubjectKind.Source, source.Key), () => Least(saws))
            {
                Facts = () => Fact("saws", string.Join(", ", saws.Select(saw => saw.Saw))),
            };
        }

        foreach (var presence in presences.Values)
        {
            var subject = AlarmSubject.Saw(presence.Saw);
            yield return new AlarmProbe(Communication("silence"), subject, () => Of(presence.Silence)) { Facts = () => Fact("saws", presence.Saw) };
            yield return new AlarmProbe(Communication("stale"), subject, () => Of(presence.Stale))
            {
                Facts = () => Fact("signals", string.Join(", ", presence.Missing.Select(signal => SignalInfo.Of(signal).Name))),
            };
        }
    }

    /// <summary>The gateway itself: its disk, what it could not keep up with.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="writer">The history.</param>
    /// <param name="keeping">What keeps the history within its budget.</param>
    /// <param name="inboxes">The saws' inboxes.</param>
    /// <param name="clock">The machine clock.</param>
    public static IEnumerable<AlarmProbe> Itself(GatewayOptions options, HistoryWriter writer, HistoryKeeping keeping, IEnumerable<SawInbox> inboxes, SteadyClock clock)
    {
        var gateway = new AlarmSubject(AlarmSubjectKind.Gateway, options.Gateway);
        yield return new AlarmProbe(Gateway("history_trouble"), gateway, () => writer.InTrouble);
        yield return new AlarmProbe(Gateway("history_damaged"), gateway, () => HasDamagedHistory(options.DataFolder));
        yield return new AlarmProbe(Gateway("clock_trouble"), gateway, () => clock.Trouble is not null) { Facts = () => Fact("trouble", clock.Trouble ?? "") };
        yield return new AlarmProbe(Gateway("disk_free"), gateway, () => FreeMegabytes(options.DataFolder));
        yield return new AlarmProbe(Gateway("history_budget"), gateway, () => keeping.Share);
        foreach (var inbox in inboxes)
        {
            var lost = new RecentCount(LostWindow, clock);
            yield return new AlarmProbe(Gateway("frames_lost"), AlarmSubject.Saw(inbox.Saw), () => lost.Push(inbox.Lost));
        }
    }

    /// <summary>What the gateway writes to.</summary>
    /// <param name="destinations">The destinations.</param>
    /// <param name="refusals">What they refused.</param>
    public static IEnumerable<AlarmProbe> Destinations(IEnumerable<Destination> destinations, RefusalCounts refusals)
    {
        foreach (var destination in destinations)
        {
            var subject = new AlarmSubject(AlarmSubjectKind.Destination, destination.Name);
            yield return new AlarmProbe(Gateway("delivery_trouble"), subject, () => Trouble(destination.IsTroubleKnown, destination.InTrouble));
            yield return new AlarmProbe(Gateway("destination_refuses"), subject, () => Trouble(destination.IsTroubleKnown, destination.ToMend is not null)) { Facts = () => Fact("trouble", destination.ToMend ?? "nothing any more.") };
            yield return new AlarmProbe(Gateway("points_refused"), subject, () => refusals.Of(destination.Name));
        }
    }

    /// <summary>The channels that messages leave by.</summary>
    /// <param name="channels">The channels.</param>
    /// <param name="refusals">What they refused.</param>
    public static IEnumerable<AlarmProbe> Channels(IEnumerable<ChannelLoop> channels, RefusalCounts refusals)
    {
        foreach (var channel in channels)
        {
            var subject = new AlarmSubject(AlarmSubjectKind.Channel, channel.Name);
            yield return new AlarmProbe(Gateway("channel_trouble"), subject, () => Trouble(channel.IsTroubleKnown, channel.InTrouble));
            yield return new AlarmProbe(Gateway("messages_refused"), subject, () => refusals.Of(channel.Name));
        }
    }

    private static AlarmVariable Communication(string name) => AlarmVariables.Of(AlarmTopic.Communication, name);

    private static AlarmVariable Gateway(string name) => AlarmVariables.Of(AlarmTopic.Gateway, name);

    private static ProbeValue Of((double Seconds, bool AtLeast) heard) => new(heard.Seconds, heard.AtLeast);

    private static ProbeValue Trouble(bool isKnown, bool inTrouble) => isKnown ? inTrouble : double.NaN;

    // A source is there as long as one of its saws is heard.
    private static ProbeValue Least(SawPresence[] saws)
    {
        var least = new ProbeValue(double.PositiveInfinity);
        foreach (var saw in saws)
        {
            var silence = Of(saw.Silence);
            if (silence.Value < least.Value)
                least = silence;
        }

        return least;
    }

    // As long as it lies there nobody has dealt with it: a restore gives it another name, a person moves it away.
    private static ProbeValue HasDamagedHistory(string folder)
    {
        try
        {
            return AsideFiles.Find(folder, AsideFiles.Damaged).Count > 0;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // Not known: whether the disk takes what is written is another probe.
            return double.NaN;
        }
    }

    private static double FreeMegabytes(string folder)
    {
        try
        {
            return new DriveInfo(Path.GetFullPath(folder)).AvailableFreeSpace / 1e6;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
        {
            // Not known: whether the disk takes what is written is another probe.
            return double.NaN;
        }
    }

    private static Dictionary<string, AlarmFact> Fact(string name, string words) => new(StringComparer.Ordinal) { [name] = AlarmFact.Words(words) };
}
