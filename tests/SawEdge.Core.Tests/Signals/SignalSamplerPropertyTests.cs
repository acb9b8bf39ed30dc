using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Signals;

/// <summary>Samples of frames made at random, with fixed seeds, against the same worked out from lists.</summary>
public sealed class SignalSamplerPropertyTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 28, 23, 59, 0, TimeSpan.Zero);
    private static readonly int[] Lengths = [1, 7, 250, 1000, 7000, 10_000, 60_000];

    public static TheoryData<int> Seeds => [.. Enumerable.Range(1, 200)];

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Push_WhateverComes_GivesWhatListsGive(int seed)
    {
        var random = new Random(seed);
        var sampler = new SignalSampler(Length(random));
        var frames = MadeAtRandom(random, 400, inOrder: false);
        foreach (var frame in frames)
            sampler.Push(frame);
        sampler.Complete();

        Same(Visits(Accepted(frames), sampler.Every), Taken(sampler));
    }

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Restore_OfWhatIsKnown_MakesAnIntervalWholeHoweverOftenItIsVisited(int seed)
    {
        var random = new Random(seed);
        var sampler = new SignalSampler(Length(random));
        var frames = MadeAtRandom(random, 400, inOrder: false);
        var store = new Dictionary<DateTimeOffset, SignalSample>();
        foreach (var frame in frames)
            PushWithStore(sampler, frame, store);
        sampler.Complete();
        Store(sampler, store);

        Same(Whole(Accepted(frames), sampler.Every), store.Values.OrderBy(sample => sample.From));
    }

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Restore_AfterCleanStops_GivesWhatOneRunGives(int seed)
    {
        var random = new Random(seed);
        var every = Length(random);
        var frames = MadeAtRandom(random, 400, inOrder: true);
        var store = new Dictionary<DateTimeOffset, SignalSample>();
        var sampler = new SignalSampler(every);
        foreach (var frame in frames)
        {
            if (random.Next(20) == 0)
            {
                sampler.Complete();
                Store(sampler, store);
                sampler = new SignalSampler(every);
            }

            PushWithStore(sampler, frame, store);
        }

        sampler.Complete();
        Store(sampler, store);

        Same(Whole(frames.Where(HasAny), every), store.Values.OrderBy(sample => sample.From));
    }

    private static void PushWithStore(SignalSampler sampler, SignalFrame frame, Dictionary<DateTimeOffset, SignalSample> store)
    {
        if (sampler.IsOpenedAgainBy(frame))
        {
            Store(sampler, store);
            if (store.TryGetValue(sampler.IntervalOf(frame.Time), out var known))
                sampler.Restore(known);
        }

        sampler.Push(frame);
        Store(sampler, store);
    }

    private static void Store(SignalSampler sampler, Dictionary<DateTimeOffset, SignalSample> store)
    {
        foreach (var sample in Taken(sampler))
            store[sample.From] = sample;
    }

    private static TimeSpan Length(Random random) => TimeSpan.FromMilliseconds(Lengths[random.Next(Lengths.Length)]);

    private static List<SignalFrame> MadeAtRandom(Random random, int count, bool inOrder)
    {
        var frames = new List<SignalFrame>();
        var at = Begin;
        while (frames.Count < count)
        {
            at = at.AddTicks(random.Next(30) switch
            {
                0 => random.Next(1, 600) * TimeSpan.TicksPerSecond,
                1 when !inOrder => -random.Next(0, 60) * TimeSpan.TicksPerSecond,
                2 when !inOrder => -random.Next(0, 300) * TimeSpan.TicksPerMillisecond,
                < 15 => TimeSpan.TicksPerSecond,
                _ => random.Next(1, 30_000_000),
            });
            var frame = new SignalFrame(at);
            foreach (var info in SignalInfo.All.Where(info => info.Kind != SignalKind.Text))
            {
                if (random.Next(4) == 0)
                    frame.Mark(info.Signal, (SignalQuality)(2 + random.Next(3)));
                else if (random.Next(8) > 0)
                    frame.Set(info.Signal, info.Kind == SignalKind.Flag ? random.Next(2) : random.Next(12) == 0 ? double.NaN : (random.NextDouble() - 0.3) * Math.Pow(10, random.Next(-3, 5)));
            }

            frames.Add(random.Next(15) == 0 ? new SignalFrame(at) : frame);
        }

        return frames;
    }

    // What is left when frames that are not newer are passed over until three of them rise among themselves.
    private static List<SignalFrame> Accepted(IEnumerable<SignalFrame> frames)
    {
        var accepted = new List<SignalFrame>();
        var behind = new List<DateTimeOffset>();
        foreach (var frame in frames.Where(HasAny))
        {
            if (accepted.Count == 0 || frame.Time > accepted[^1].Time || (behind.Count >= 2 && frame.Time > behind[^1]))
            {
                accepted.Add(frame);
                behind.Clear();
                continue;
            }

            if (behind.Count > 0 && frame.Time <= behind[^1])
                behind.Clear();
            behind.Add(frame.Time);
        }

        return accepted;
    }

    private static bool HasAny(SignalFrame frame) => SignalSample.Signals.Any(info => frame.Has(info.Signal));

    private static List<(DateTimeOffset From, List<SignalFrame> Frames)> Visits(IEnumerable<SignalFrame> frames, TimeSpan every)
    {
        var visits = new List<(DateTimeOffset From, List<SignalFrame> Frames)>();
        foreach (var frame in frames)
        {
            var from = DateTimeOffset.FromUnixTimeMilliseconds(frame.Time.ToUnixTimeMilliseconds() / (long)every.TotalMilliseconds * (long)every.TotalMilliseconds);
            if (visits.Count == 0 || visits[^1].From != from)
                visits.Add((from, []));
            visits[^1].Frames.Add(frame);
        }

        return visits;
    }

    private static IEnumerable<(DateTimeOffset From, List<SignalFrame> Frames)> Whole(IEnumerable<SignalFrame> frames, TimeSpan every) =>
        Visits(frames, every).GroupBy(visit => visit.From).OrderBy(visits => visits.Key).Select(visits => (visits.Key, visits.SelectMany(visit => visit.Frames).ToList()));

    private static void Same(IEnumerable<(DateTimeOffset From, List<SignalFrame> Frames)> expected, IEnumerable<SignalSample> actual)
    {
        var (visits, samples) = (expected.ToList(), actual.ToList());
        Assert.Equal(visits.Select(visit => (visit.From, visit.Frames.Count)), samples.Select(sample => (sample.From, sample.Frames)));
        foreach (var (visit, sample) in visits.Zip(samples))
        {
            foreach (var info in SignalInfo.All.Where(info => info.Kind != SignalKind.Text))
            {
                var values = visit.Frames.Where(frame => frame.Has(info.Signal)).Select(frame => frame.Number(info.Signal)).ToList();
                if (values.Count == 0 || info.Kind == SignalKind.Integer)
                {
                    Assert.Null(sample[info.Signal]);
                    continue;
                }

                var figures = sample[info.Signal]!.Value;
                Assert.Equal((values.Count, (float)values.Min(), (float)values.Max(), (float)values[^1]), (figures.Count, figures.Least, figures.Greatest, figures.Last));

                // Parts that were restored come from single precision.
                Assert.Equal(values.Average(), figures.Mean, Math.Max(values.Max(Math.Abs), 1e-30) * 1e-5);
                Assert.InRange(figures.Mean, figures.Least, figures.Greatest);
            }
        }
    }

    private static List<SignalSample> Taken(SignalSampler sampler)
    {
        var taken = new List<SignalSample>();
        while (sampler.TryTake(out var sample))
            taken.Add(sample);
        return taken;
    }
}
