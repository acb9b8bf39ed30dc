using System.Text;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>A moment from which on a saw did something else, or its time belongs elsewhere.</summary>
/// <param name="At">The moment, whole milliseconds.</param>
/// <param name="State">What it does from then on.</param>
/// <param name="Reason">Of a stop its reason: a person's, else the controller's as the plant's rules read it; else empty.</param>
/// <param name="Bucket">Where its time belongs; null: it is no planned time.</param>
public sealed record StateBegin(DateTimeOffset At, TimelineState State, string Reason, OeeBucket? Bucket);

/// <summary>The figures of an hour of a saw.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="Hour">The hour; of the running one what is past of it.</param>
/// <param name="Part">The figures.</param>
/// <param name="Sequence">Rises with each hour that is new or differs from what it was.</param>
public sealed record AccountHour(string Saw, Period Hour, AccountPart Part, long Sequence)
{
    /// <summary>
    /// The moments of the hour in which a state began, in order. Those that were once told and are none any more go on being told, with
    /// what holds then: whoever was told of them cannot be made to forget.
    /// </summary>
    public IReadOnlyList<StateBegin> Begins { get; init; } = [];

    /// <summary>What holds when the hour begins; null: not known, or not asked for any more.</summary>
    public StateBegin? Before { get; init; }

    /// <summary>Stops that were once told of this hour and are none of it any more: their time is 0.</summary>
    public IReadOnlyList<(StopClass Class, string Reason)> FormerStops { get; init; } = [];

    /// <summary>This hour with what was told of it before and does not hold any more.</summary>
    /// <param name="former">The hour as it was stored.</param>
    public AccountHour After(AccountHour former)
    {
        var own = Begins.Select(begin => begin.At).ToHashSet();
        var gone = former.Begins.Where(begin => !own.Contains(begin.At)).Select(begin => begin.At < Hour.To && HoldsAt(begin.At) is { } holds ? holds with { At = begin.At } : begin);
        var stops = Part.Buckets.Stops.Select(stop => (stop.Class, stop.Reason)).ToHashSet();
        var told = former.Part.Buckets.Stops.Select(stop => (stop.Class, stop.Reason)).Concat(former.FormerStops).Distinct();
        return this with
        {
            Begins = [.. Begins.Concat(gone).OrderBy(begin => begin.At)],
            FormerStops = [.. told.Where(stop => !stops.Contains(stop)).OrderBy(stop => stop.Class).ThenBy(stop => stop.Reason, StringComparer.Ordinal)],
        };
    }

    private StateBegin? HoldsAt(DateTimeOffset at) => Begins.LastOrDefault(begin => begin.At <= at) ?? Before;
}

/// <summary>The figures of an hour as bytes. The sums stand first, so that a program that knows only them reads them still.</summary>
internal static class AccountHourCodec
{
    private const int Most = 10_000_000;

    /// <summary>Writes an hour.</summary>
    public static byte[] Encode(AccountHour hour)
    {
        using var bytes = new MemoryStream(512);
        using var writer = new BinaryWriter(bytes, Encoding.UTF8);
        AccountSumsCodec.Write(writer, [hour.Part]);
        writer.Write7BitEncodedInt(hour.Begins.Count);
        foreach (var begin in hour.Begins)
        {
            AccountSumsCodec.Write(writer, begin.At.ToUnixTimeMilliseconds());
            writer.Write((byte)begin.State);
            writer.Write(begin.Reason);
            writer.Write((byte)(begin.Bucket is { } bucket ? 1 + (int)bucket : 0));
        }

        writer.Write7BitEncodedInt(hour.FormerStops.Count);
        foreach (var (stop, reason) in hour.FormerStops)
        {
            writer.Write((byte)stop);
            writer.Write(reason);
        }

        writer.Flush();
        return bytes.ToArray();
    }

    /// <summary>Reads one.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="hour">The hour.</param>
    /// <param name="sequence">Its number.</param>
    /// <param name="data">What was written.</param>
    /// <exception cref="InvalidDataException">These are no figures of a known version.</exception>
    public static AccountHour Decode(string saw, Period hour, long sequence, byte[] data)
    {
        using var reader = new BinaryReader(new MemoryStream(data), Encoding.UTF8);
        return AccountSumsCodec.Whole(reader, from =>
        {
            var sums = new AccountHour(saw, hour, AccountSumsCodec.ReadParts(from)[0], sequence);

            // Written by a program that knew only the sums.
            if (from.BaseStream.Position == from.BaseStream.Length)
                return sums;
            var begins = new StateBegin[Count(from)];
            for (var i = 0; i < begins.Length; i++)
                begins[i] = new StateBegin(DateTimeOffset.FromUnixTimeMilliseconds(AccountSumsCodec.Read(from)), (TimelineState)from.ReadByte(), from.ReadString(), from.ReadByte() is > 0 and var bucket ? (OeeBucket)(bucket - 1) : null);
            var stops = new (StopClass, string)[Count(from)];
            for (var i = 0; i < stops.Length; i++)
                stops[i] = ((StopClass)from.ReadByte(), from.ReadString());
            return sums with { Begins = begins, FormerStops = stops };
        });
    }

    private static int Count(BinaryReader reader) => reader.Read7BitEncodedInt() is >= 0 and <= Most and var count ? count : throw new InvalidDataException("These sums are damaged.");
}
