using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>Makes few requests out of many mappings. Pure functions.</summary>
internal static class ReadPlan
{
    // What decides when a cut begins and ends is read first: the frame's time is that of the first read.
    private static readonly Signal[] Urgent = [Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.CycleActive];

    /// <summary>Joins neighbours of one table, up to the protocol's limits. The read that holds the head position comes first, those that are not made with each poll last.</summary>
    /// <param name="signals">The signals of one unit.</param>
    /// <param name="maximumGap">Registers not asked for that may be read along; sixteen times as many in a table of bits.</param>
    /// <exception cref="ArgumentException">One signal alone is longer than a request may be.</exception>
    public static List<PlannedRead> Merge(IEnumerable<SignalDecoder> signals, int maximumGap)
    {
        var all = signals.ToList();
        foreach (var signal in all)
        {
            var limit = ReadRequest.Limit(PlannedRead.ToTable(signal.Mapping.Table));
            if (signal.Length > limit)
                throw new ArgumentException($"{SignalInfo.Of(signal.Mapping.Signal).Name}: {signal.Length} registers are more than one request can read, which is {limit}.", nameof(signals));
        }

        var reads = RegisterSpans.Of(all, signal => signal.Mapping, maximumGap).Select(span => new PlannedRead(span.Items));
        return [.. reads.OrderBy(read => read.Every is not null).ThenBy(Rank).ThenBy(read => read.Table).ThenBy(read => read.Address)];
    }

    /// <summary>
    /// Cuts a read in two where it hurts least: at the widest gap of registers that nobody asked for, or, without a gap,
    /// as near to the middle as its signals allow.
    /// </summary>
    /// <returns>False where its signals share registers and cannot be read apart.</returns>
    public static bool TrySplit(PlannedRead read, [NotNullWhen(true)] out PlannedRead? first, [NotNullWhen(true)] out PlannedRead? second)
    {
        var best = -1;
        var bestGap = -1;
        var end = read.Signals[0].End;
        for (var i = 1; i < read.Signals.Count; i++)
        {
            var gap = read.Signals[i].Mapping.Address - end;
            var isNearerToTheMiddle = Math.Abs((2 * i) - read.Signals.Count) < Math.Abs((2 * best) - read.Signals.Count);
            if (gap > bestGap || (gap >= 0 && gap == bestGap && isNearerToTheMiddle))
            {
                best = i;
                bestGap = gap;
            }

            end = Math.Max(end, read.Signals[i].End);
        }

        first = best > 0 ? new PlannedRead([.. read.Signals.Take(best)]) : null;
        second = best > 0 ? new PlannedRead([.. read.Signals.Skip(best)]) : null;
        return first is not null && second is not null;
    }

    private static int Rank(PlannedRead read) =>
        read.Signals.Min(signal => Array.IndexOf(Urgent, signal.Mapping.Signal) is >= 0 and var rank ? rank : Urgent.Length);
}
