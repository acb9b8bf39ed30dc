using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Recordings;

namespace SawEdge.Fuzz.Targets;

/// <summary>Reads bytes as a recording and holds the result against what must always be so.</summary>
internal static class RecordingCheck
{
    public static void Run(ReadOnlySpan<byte> input, RecordingLayouts? layouts)
    {
        var problems = new RecordingProblems();
        try
        {
            Read(input.ToArray(), problems, layouts);
        }
        catch (RecordingException e)
        {
            FuzzFinding.Unless(e.Message.Length is > 10 and < 2000, "the message is empty or longer than a person reads");
        }

        FuzzFinding.Unless(problems.All.All(problem => problem.Message.Length < 2000), "a problem's message is longer than a person reads");
    }

    private static void Read(byte[] input, RecordingProblems problems, RecordingLayouts? layouts)
    {
        // Everything is in memory, so that nothing ever waits.
        var reader = RecordingReader.OpenAsync("input.csv", new MemoryStream(input), problems, layouts is null ? "saw-1" : null, layouts).GetAwaiter().GetResult();
        var row = default(RecordedFrame);
        var rows = 0;
        for (var fills = 0; reader.FillAsync().AsTask().GetAwaiter().GetResult(); fills++)
        {
            // Gzip makes a thousand bytes of one, no more (RFC 1951).
            FuzzFinding.Unless(fills < 1000 + (1100 * input.Length), "reading does not end");
            while (reader.TryRead(ref row))
            {
                rows++;
                FuzzFinding.Unless(row.Saw.Length > 0, "a frame of no saw");
                FuzzFinding.Unless(row.Frame.QualityOf(Signal.MotorLoad) != SignalQuality.Good || double.IsFinite(row.Frame.Number(Signal.MotorLoad)), "a good number is not finite");
            }
        }

        while (reader.TryRead(ref row))
            rows++;
        FuzzFinding.Unless(rows <= 1100 * Math.Max(1, input.Length), "more rows than bytes");
        reader.DisposeAsync().AsTask().GetAwaiter().GetResult();
    }
}
