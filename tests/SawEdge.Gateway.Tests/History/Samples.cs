using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Samples for the tests.</summary>
internal static class Samples
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);

    /// <summary>Whether two samples are the same bit for bit.</summary>
    public static void Same(SignalSample expected, SignalSample actual)
    {
        Assert.Equal((expected.From, expected.Every, expected.Frames), (actual.From, actual.Every, actual.Frames));
        Assert.Equal(Bits(expected), Bits(actual));
    }

    /// <summary>Figures at random, of all forms.</summary>
    public static SignalSample Made(Random random, int frames)
    {
        var figures = new SignalFigures[SignalSample.Signals.Count];
        foreach (ref var one in figures.AsSpan())
        {
            var count = random.Next(2) == 0 ? frames : 1 + random.Next(frames);
            var value = random.Next(6) == 0 ? -0f : (float)((random.NextDouble() - 0.5) * Math.Pow(10, random.Next(-20, 20)));
            one = random.Next(7) switch
            {
                0 => default,
                1 => new SignalFigures(count, 0, 0, 0, 0),
                2 => new SignalFigures(count, 1, 1, 1, 1),
                3 => new SignalFigures(count, value, value, value, value),
                4 => new SignalFigures(count, random.NextSingle(), 0, 1, random.Next(2)),
                5 => new SignalFigures(count, random.NextSingle(), 0, 1, random.NextSingle()),
                _ => new SignalFigures(count, value, value - 1, float.MaxValue, value * 0.5f),
            };
        }

        return new SignalSample(Begin, TimeSpan.FromSeconds(10), frames, figures);
    }

    private static IEnumerable<int> Bits(SignalSample sample) => sample.Figures.ToArray()
        .SelectMany(one => new[] { one.Count, BitConverter.SingleToInt32Bits(one.Mean), BitConverter.SingleToInt32Bits(one.Least), BitConverter.SingleToInt32Bits(one.Greatest), BitConverter.SingleToInt32Bits(one.Last) });
}
