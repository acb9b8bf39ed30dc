using System.Diagnostics;
using System.Globalization;
using System.Text;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;

namespace SawEdge.Benchmarks.Cutting;

/// <summary>What expected times cost: nanoseconds and bytes for each question and section, and a whole job list.</summary>
public static class CuttingBenchmarks
{
    private static readonly string[] Sections =
    [
        "round 100 mm", "rect 100 x 50 mm", "tube 100 x 8 mm wall", "rect tube 120 x 80 x 6 mm wall", "hex 60 mm, point down",
        "L 100x100x10, heel up", "UPN 200", "IPE 300", "IPE 300, turned 33 deg", "bundle 2 x 5 of tube 40 x 4 mm wall", "W12x26, mitre 45 deg",
    ];

    /// <summary>Measures and prints a table.</summary>
    /// <param name="output">Where to.</param>
    public static void Run(TextWriter output)
    {
        output.WriteLine("| section | read, us | width, ns | segments, ns | area between, ns | power, ns | cut time, us (bytes) | standard time, us (bytes) |");
        output.WriteLine("|-|-|-|-|-|-|-|-|");
        foreach (var text in Sections)
            output.WriteLine(Row(text));
        output.WriteLine();
        foreach (var jobs in new[] { 1_000, 10_000 })
            output.WriteLine(JobList(jobs));
        output.WriteLine(Learned());
    }

    private static string Row(string text)
    {
        var job = new CutJob { JobId = "1", Material = MaterialCatalogue.BuiltIn.Find("1045")!, Section = SectionNotation.Parse(text).Section!, Blade = new Blade { CoarseTpi = 4, FineTpi = 6 } };
        var machine = new SawMachine { Name = "saw", MaximumDescentMmMin = 300 };
        var (section, curve) = (job.Section, CuttingModel.Standard(job, machine).Curve);
        var room = new ContactSegment[section.MaximumSegments];
        var depth = 0.0;
        var read = Measure(() => SectionNotation.Parse(text));
        var width = Measure(() => section.WidthAt(Next()));
        var segments = Measure(() => section.SegmentsAt(Next(), room));
        var area = Measure(() => section.AreaBetweenCm2(0, Next()));
        var power = Measure(() => curve.PowerKw(Next(), 1, 0.8));
        var time = Measure(() => curve.TimeToDepthS(section.HeightMm));
        var standard = Measure(() => CuttingModel.Standard(job, machine, 60, 100));
        return string.Create(
            CultureInfo.InvariantCulture,
            $"| {text} | {read.Ns / 1000:0.0} | {width.Ns:0} | {segments.Ns:0} | {area.Ns:0} | {power.Ns:0} | {time.Ns / 1000:0.0} ({time.Bytes:0}) | {standard.Ns / 1000:0.0} ({standard.Bytes:0}) |");

        double Next()
        {
            depth += section.HeightMm * 0.37;
            return depth -= depth > section.HeightMm ? section.HeightMm : 0;
        }
    }

    private static string JobList(int jobs)
    {
        var text = new StringBuilder("job,material,section,part_length,pieces,blade,standard\n");
        var materials = MaterialCatalogue.BuiltIn.All;
        for (var i = 0; i < jobs; i++)
            text.Append(CultureInfo.InvariantCulture, $"J-{i},{materials[i % materials.Count].Name},round {20 + (i % 400)} mm,{50 + i} mm,{1 + (i % 90)},bimetal 3/4 tpi,{(i % 3 == 0 ? "95 s" : "")}\n");
        var list = text.ToString();
        JobBook.Parse(list, MaterialCatalogue.BuiltIn);
        var clock = Stopwatch.StartNew();
        var parse = JobBook.Parse(list, MaterialCatalogue.BuiltIn);
        var read = clock.Elapsed.TotalMilliseconds;
        var machine = new SawMachine { Name = "saw" };
        clock.Restart();
        var seconds = parse.Book.Jobs.Sum(j => CuttingModel.Standard(j, machine).CutSeconds);
        return string.Create(
            CultureInfo.InvariantCulture,
            $"A list of {jobs} jobs: read and checked in {read:0} ms ({parse.Errors.Count} errors), every standard time in another {clock.Elapsed.TotalMilliseconds:0} ms ({seconds / 3600:0} h of cutting).");
    }

    private static string Learned()
    {
        var times = new LearnedTimes();
        var keys = MaterialCatalogue.BuiltIn.All.Select(m => new LearnedKey("saw", m.Name, "round", "bimetal 3/4 tpi")).ToList();
        for (var i = 0; i < 5000; i++)
            times.Observe(keys[i % keys.Count], 100 + (i % 13), 100);
        var at = 0;
        var predict = Measure(() => times.Predict(keys[at++ % keys.Count], 100));
        return string.Create(CultureInfo.InvariantCulture, $"A learned time with its interval, {keys.Count} kinds of cut on the saw: {predict.Ns / 1000:0.0} us ({predict.Bytes:0} bytes).");
    }

    /// <summary>The least mean of several runs, after the code has been compiled in its last form.</summary>
    private static (double Ns, double Bytes) Measure<T>(Func<T> question)
    {
        var (least, bytes) = (double.PositiveInfinity, 0.0);
        var rounds = 1000;
        for (var run = 0; run < 12; run++)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            var clock = Stopwatch.StartNew();
            for (var i = 0; i < rounds; i++)
                question();
            var elapsed = clock.Elapsed;
            bytes = (double)(GC.GetAllocatedBytesForCurrentThread() - before) / rounds;
            if (run >= 4)
                least = Math.Min(least, elapsed.TotalNanoseconds / rounds);
            else if (elapsed.TotalMilliseconds < 10)
                rounds *= 2;
        }

        return (least, bytes);
    }
}
