using System.Text;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>Where the planned time of one saw went in one stretch, and its parts against the controller's counter.</summary>
/// <param name="Buckets">Where the time went.</param>
/// <param name="Counter">The parts against the counter.</param>
public sealed record AccountPart(OeeBuckets Buckets, CounterSum Counter);

/// <summary>What was worked out for a block of whole shifts of a saw.</summary>
/// <param name="Block">The block.</param>
/// <param name="Needs">The time that was looked at for it: what changes in it makes this void.</param>
/// <param name="Parts">One for each shift of the block, in order.</param>
public sealed record AccountSums(Period Block, Period Needs, IReadOnlyList<AccountPart> Parts);

/// <summary>Sums as bytes: numbers in 7-bit groups, signed ones folded so that small ones are short.</summary>
internal static class AccountSumsCodec
{
    private const byte Version = 1;
    private const int MostStops = 100_000;

    private static readonly int Times = Enum.GetValues<OeeBucket>().Length;
    private static readonly int Beside = Enum.GetValues<OeeBeside>().Length;
    private static readonly int Counts = Enum.GetValues<OeeCount>().Length;

    /// <summary>Writes parts.</summary>
    public static byte[] Encode(IReadOnlyList<AccountPart> parts)
    {
        using var bytes = new MemoryStream(512);
        using var writer = new BinaryWriter(bytes, Encoding.UTF8);
        Write(writer, parts);
        writer.Flush();
        return bytes.ToArray();
    }

    /// <summary>Writes parts where others follow.</summary>
    public static void Write(BinaryWriter writer, IReadOnlyList<AccountPart> parts)
    {
        writer.Write(Version);
        writer.Write7BitEncodedInt(parts.Count);
        foreach (var part in parts)
        {
            Write(writer, part.Buckets);
            var c = part.Counter;
            foreach (var number in (ReadOnlySpan<long>)[c.Readings, c.Parts, c.Counted, c.Unseen, c.NotCounted, c.Resets, c.Rollovers, c.First, c.Last, c.SeenBefore, c.SeenAfter])
                Write(writer, number);
        }
    }

    /// <summary>Reads them.</summary>
    /// <exception cref="InvalidDataException">These are no parts of a known version.</exception>
    public static IReadOnlyList<AccountPart> Decode(byte[] data)
    {
        using var reader = new BinaryReader(new MemoryStream(data), Encoding.UTF8);
        return Whole(reader, ReadParts);
    }

    /// <summary>Reads parts behind which others may follow.</summary>
    /// <exception cref="InvalidDataException">These are no parts of a known version.</exception>
    public static AccountPart[] ReadParts(BinaryReader reader)
    {
        if (reader.ReadByte() != Version)
            throw new InvalidDataException("These sums are of another version.");
        var parts = new AccountPart[reader.Read7BitEncodedInt()];
        for (var i = 0; i < parts.Length; i++)
            parts[i] = new AccountPart(ReadBuckets(reader), ReadCounter(reader));
        return parts;
    }

    /// <summary>Reads, and says that what is there is damaged where it breaks off or cannot be.</summary>
    /// <exception cref="InvalidDataException">It is damaged.</exception>
    public static T Whole<T>(BinaryReader reader, Func<BinaryReader, T> read)
    {
        try
        {
            return read(reader);
        }
        catch (Exception e) when (e is EndOfStreamException or FormatException or OverflowException or ArgumentException)
        {
            throw new InvalidDataException($"These sums are damaged: {e.Message}", e);
        }
    }

    private static void Write(BinaryWriter writer, OeeBuckets buckets)
    {
        Write(writer, buckets.PlannedBusyTime.Ticks);
        for (var i = 0; i < Times; i++)
            Write(writer, buckets[(OeeBucket)i].Ticks);
        for (var i = 0; i < Beside; i++)
            Write(writer, buckets[(OeeBeside)i].Ticks);
        for (var i = 0; i < Counts; i++)
            Write(writer, buckets[(OeeCount)i]);
        var stops = buckets.Stops;
        writer.Write7BitEncodedInt(stops.Count);
        foreach (var stop in stops)
        {
            writer.Write((byte)stop.Class);
            writer.Write(stop.Reason);
            Write(writer, stop.Time.Ticks);
        }
    }

    private static OeeBuckets ReadBuckets(BinaryReader reader)
    {
        var planned = Read(reader);
        Span<long> times = stackalloc long[Times], beside = stackalloc long[Beside], counts = stackalloc long[Counts];
        Fill(reader, times);
        Fill(reader, beside);
        Fill(reader, counts);
        var count = reader.Read7BitEncodedInt();
        if (count is < 0 or > MostStops)
            throw new InvalidDataException("These sums are damaged.");
        var stops = count == 0 ? [] : new StopTime[count];
        for (var i = 0; i < count; i++)
            stops[i] = new StopTime((StopClass)reader.ReadByte(), reader.ReadString(), new TimeSpan(Read(reader)));
        return OeeBuckets.Of(new TimeSpan(planned), times, beside, counts, stops);
    }

    private static CounterSum ReadCounter(BinaryReader reader) => new()
    {
        Readings = Read(reader),
        Parts = Read(reader),
        Counted = Read(reader),
        Unseen = Read(reader),
        NotCounted = Read(reader),
        Resets = Read(reader),
        Rollovers = Read(reader),
        First = Read(reader),
        Last = Read(reader),
        SeenBefore = Read(reader),
        SeenAfter = Read(reader),
    };

    private static void Fill(BinaryReader reader, Span<long> numbers)
    {
        for (var i = 0; i < numbers.Length; i++)
            numbers[i] = Read(reader);
    }

    internal static void Write(BinaryWriter writer, long number) => writer.Write7BitEncodedInt64((number << 1) ^ (number >> 63));

    internal static long Read(BinaryReader reader)
    {
        var folded = (ulong)reader.Read7BitEncodedInt64();
        return (long)(folded >> 1) ^ -(long)(folded & 1);
    }
}
