using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Load;

/// <summary>What a cut is expected to load the motor with while it runs, against what it then does.</summary>
public sealed class LoadOutlookTests
{
    private const int Cycles = 30;
    private const int LearnedFrom = 15;

    [Theory]
    [InlineData("round 100 mm")]
    [InlineData("tube 120 mm x 10 mm wall")]
    [InlineData("square 80 mm")]
    public void Outlook_AfterSomeCuts_FollowsTheLoadAlongTheDepth(string section)
    {
        var (errors, inside, bins) = (0.0, 0, 0);
        var sums = new (double Load, double Expected, double Low, double High, int Count)[10];
        var cycle = 0L;
        var seen = 0;
        void Close()
        {
            if (seen > LearnedFrom)
            {
                foreach (var (load, expected, low, high, count) in sums[1..9].Where(sum => sum.Count >= 5))
                {
                    bins++;
                    errors += Math.Abs(Math.Log(load / expected));
                    inside += load >= low && load <= high ? 1 : 0;
                }
            }

            Array.Clear(sums);
        }

        Run(section, (frame, pipeline) =>
        {
            if (pipeline.OpenCycle != cycle)
            {
                Close();
                (cycle, seen) = (pipeline.OpenCycle, seen + 1);
            }

            var cut = pipeline.Cut;
            if (!(cut.DepthMm > 0) || !cut.IsDown || pipeline.Recorder.Outlook(pipeline.Job!, frame.Number(Signal.BladeSpeed)) is not { } outlook || double.IsNaN(outlook.At(cut.DepthMm).ExpectedKw))
                return;
            var there = outlook.At(cut.DepthMm);
            ref var sum = ref sums[Math.Min(9, (int)(cut.DepthMm / outlook.HeightMm * 10))];
            sum = (sum.Load + frame.Number(Signal.MotorLoad), sum.Expected + cut.IdleKw + there.ExpectedKw, sum.Low + cut.IdleKw + there.LowKw, sum.High + cut.IdleKw + there.HighKw, sum.Count + 1);
        });

        // A tenth of the depth in the mean of its frames, ends left out. Own choice of limits: the model's error after 15 cuts is a few per cent.
        Assert.InRange(bins, 60, 1000);
        Assert.InRange(errors / bins, 0, 0.06);
        Assert.InRange((double)inside / bins, 0.85, 1);
    }

    [Fact]
    public void Outlook_WhoeverAsks_ChangesNothingThatIsLearned()
    {
        var asked = Run("round 100 mm", (frame, pipeline) =>
        {
            if (pipeline.Job is { } job)
                pipeline.Recorder.Outlook(job, frame.Number(Signal.BladeSpeed));
        }, everyFrames: 50);
        var quiet = Run("round 100 mm", (_, _) => { });
        Assert.NotEmpty(quiet.Load);
        Assert.Equal(quiet.Load, asked.Load);
    }

    [Fact]
    public void Cut_WhileItRuns_GoesFromNothingToAll()
    {
        var shares = new List<double>();
        var (cycle, started) = (0L, 0);
        Run("round 100 mm", (frame, pipeline) =>
        {
            if (pipeline.OpenCycle == 0)
            {
                Assert.Equal(LiveCut.None, pipeline.Cut);
                return;
            }

            var cut = pipeline.Cut;
            if (pipeline.OpenCycle != cycle)
            {
                shares.Clear();
                cycle = pipeline.OpenCycle;
            }

            if (double.IsNaN(cut.Share))
            {
                Assert.Empty(shares);
                return;
            }

            Assert.InRange(cut.Share, shares.Count == 0 ? 0 : shares[^1], 1);
            shares.Add(cut.Share);
            started += cut.StartedAt is { } at && at <= frame.Time ? 1 : 0;
        });
        Assert.Equal(1, shares[^1], 0.02);
        Assert.True(started > 100);
    }

    private static RecorderMemory Run(string section, Action<SignalFrame, SawPipeline> look, int everyFrames = 1)
    {
        // Everything mapped.
        var options = Watched.Saw(section, 1);
        var pipeline = new SawPipeline(options.Machine.ToSawMachine(), Watched.Jobs(section));
        var frames = 0;
        foreach (var frame in RecordingGenerator.Frames(new VirtualSaw(options), new RecordingOptions { Interval = TimeSpan.FromMilliseconds(250), Cycles = Cycles }))
        {
            pipeline.Push(frame);
            while (pipeline.TryTake(out _))
            {
            }

            if (++frames % everyFrames == 0)
                look(frame, pipeline);
        }

        return pipeline.Recorder.Save();
    }
}
