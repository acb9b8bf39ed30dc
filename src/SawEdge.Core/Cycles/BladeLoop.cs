using SawEdge.Core.Statistics;

namespace SawEdge.Core.Cycles;

/// <summary>How far the load of a cut comes and goes with each turn of the blade.</summary>
/// <param name="Loops">Turns of the blade that were looked at.</param>
/// <param name="Harmonics">Harmonics of the loop frequency that the sampling allowed.</param>
/// <param name="Neighbours">Frequencies between them that were compared with.</param>
/// <param name="PowerRatio">Mean power at the harmonics over mean power beside them: about 1 for a sound blade.</param>
/// <param name="Swing">Amplitude at the loop frequency itself, as a share of the net load.</param>
public sealed record BladeLoopMeasure(double Loops, int Harmonics, int Neighbours, double PowerRatio, double Swing);

/// <summary>
/// The power of the load's residual at the blade's loop frequency and its harmonics, in the domain of blade position, so that
/// a change of blade speed does not smear it. The residual is what is left after a mean over exactly one loop, which takes
/// away every trend and nothing that repeats with the loop.
/// </summary>
internal static class BladeLoop
{
    /// <summary>Least samples a loop and loops a cut at which anything can be said.</summary>
    public const double LeastSamples = 4;

    /// <summary>Least loops a cut.</summary>
    public const double LeastLoops = 3;

    private const int MostHarmonics = 5;
    private const int MostSamples = 4096;

    // In units of 1 / loops, the width of a spectral line: beyond the line itself, and before the next one.
    private static readonly double[] Offsets = [1.25, 2.0, 2.75];

    /// <summary>Measures a cut; null where blade speed, length or sampling do not allow it.</summary>
    /// <param name="samples">The trace.</param>
    /// <param name="facts">Where the cut lies in it.</param>
    /// <param name="bladeLengthMm">Length of the loop, mm, or NaN.</param>
    public static BladeLoopMeasure? Measure(ReadOnlySpan<Sample> samples, in CutFacts facts, double bladeLengthMm)
    {
        if (!(bladeLengthMm > 0) || !facts.UsedLoad || double.IsNaN(facts.IdleKw) || facts.Last - facts.First < LeastSamples * LeastLoops)
            return null;
        var positions = new double[facts.Last - facts.First + 1];
        var loads = new double[positions.Length];
        var count = Positions(samples, facts, bladeLengthMm, positions, loads);
        if (count < LeastSamples * LeastLoops)
            return null;
        var loops = positions[count - 1] - positions[0];
        if (!(loops >= LeastLoops + 1) || count / loops < LeastSamples)
            return null;
        var residuals = new double[count];
        var at = new double[count];
        var kept = Residuals(positions.AsSpan(0, count), loads.AsSpan(0, count), facts.IdleKw, at, residuals);
        loops = kept > 0 ? at[kept - 1] - at[0] : 0;
        if (!(loops >= LeastLoops) || kept / loops < LeastSamples)
            return null;
        return Compare(at.AsSpan(0, kept), residuals.AsSpan(0, kept), loops);
    }

    // Blade position in loops at each sample of known load; neighbours are joined where there are more than are needed.
    private static int Positions(ReadOnlySpan<Sample> samples, in CutFacts facts, double bladeLengthMm, double[] positions, double[] loads)
    {
        var join = Math.Max(1, (positions.Length + MostSamples - 1) / MostSamples);
        var (position, count, joined, sum, sumAt) = (0.0, 0, 0, 0.0, 0.0);
        var speed = float.NaN;
        for (var i = facts.First; i <= facts.Last; i++)
        {
            ref readonly var sample = ref samples[i];
            if (i > facts.First && speed > 0)
                position += speed * 1000 / 60 * ((double)(sample.Ticks - samples[i - 1].Ticks) / TimeSpan.TicksPerSecond) / bladeLengthMm;
            speed = float.IsNaN(sample.Speed) ? speed : sample.Speed;

            // A blade that stands marks no position.
            if (!(speed > 0) || float.IsNaN(sample.Load))
                continue;
            sum += sample.Load;
            sumAt += position;
            if (++joined < join)
                continue;
            positions[count] = sumAt / joined;
            loads[count++] = sum / joined;
            (joined, sum, sumAt) = (0, 0, 0);
        }

        return count;
    }

    // Each load less the mean over the loop around it, as a share of the net load there.
    private static int Residuals(ReadOnlySpan<double> positions, ReadOnlySpan<double> loads, double idleKw, Span<double> keptPositions, Span<double> residuals)
    {
        var mean = 0.0;
        foreach (var load in loads)
            mean += load / loads.Length;
        var least = 0.2 * (mean - idleKw);
        var (from, to, sum, kept) = (0, 0, 0.0, 0);
        for (var i = 0; i < loads.Length; i++)
        {
            while (to < loads.Length && positions[to] < positions[i] + 0.5)
                sum += loads[to++];
            while (positions[from] < positions[i] - 0.5)
                sum -= loads[from++];
            if (positions[i] < positions[0] + 0.5 || positions[i] > positions[^1] - 0.5)
                continue;
            var around = sum / (to - from);
            if (!(around - idleKw > least))
                continue;
            residuals[kept] = (loads[i] - around) / (around - idleKw);
            keptPositions[kept++] = positions[i];
        }

        Hold(residuals[..kept]);
        return kept;
    }

    // A single spike would spread over every frequency.
    private static void Hold(Span<double> residuals)
    {
        Span<double> sorted = residuals.Length <= 1024 ? stackalloc double[residuals.Length] : new double[residuals.Length];
        residuals.CopyTo(sorted);
        var reach = 6 * RobustStatistics.Mad(sorted);
        if (!(reach > 0))
            return;
        foreach (ref var residual in residuals)
            residual = Math.Clamp(residual, -reach, reach);
    }

    private static BladeLoopMeasure Compare(ReadOnlySpan<double> positions, ReadOnlySpan<double> residuals, double loops)
    {
        var harmonics = Math.Clamp((int)(positions.Length / loops / 2.5), 1, MostHarmonics);
        var (at, beside, count, swing) = (0.0, 0.0, 0, 0.0);
        for (var k = 1; k <= harmonics; k++)
        {
            var power = Periodogram.Power(positions, residuals, k);
            at += power;
            if (k == 1)
                swing = Math.Sqrt(4 * power / positions.Length);
            foreach (var offset in Offsets)
            {
                var distance = Math.Min(offset / loops, 0.5);
                beside += Periodogram.Power(positions, residuals, k - distance) + Periodogram.Power(positions, residuals, k + distance);
                count += 2;
                if (offset / loops >= 0.5)
                    break;
            }
        }

        var ratio = beside > 0 ? at / harmonics / (beside / count) : double.NaN;
        return new BladeLoopMeasure(loops, harmonics, count, ratio, swing);
    }
}
