using System.Globalization;
using SawEdge.Core.Sections;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Sections;

public class PipeScheduleTests
{
    private const string Library = "/usr/lib/python3/dist-packages/fluids/piping.py";

    /// <summary>Against Debian's python3-fluids, which holds ASME B36.10M and B36.19M: every size of every schedule, both ways.</summary>
    [PeerFact("/usr/bin/python3", Library)]
    public async Task Pipes_are_those_of_the_fluids_library()
    {
        const string Script = """
            import fluids.piping as p
            for s in ['5','10','20','30','40','60','80','100','120','140','160','STD','XS','XXS','5S','10S','40S','80S']:
                for nps, di, do, t in zip(*p.schedule_lookup[s]):
                    print(nps, s, do, t, sep=',')
            """;
        var (exit, output) = await Peer.RunAsync("/usr/bin/python3", ["-c", Script]);
        Assert.True(exit == 0, output);
        var lines = output.Split('\n', StringSplitOptions.RemoveEmptyEntries);
        Assert.True(lines.Length >= 370, $"{lines.Length} pipes");
        var sizes = new HashSet<string>();
        foreach (var cells in lines.Select(l => l.Split(',')))
        {
            var nps = Trade(double.Parse(cells[0], CultureInfo.InvariantCulture));
            sizes.Add(nps);
            var pipe = StandardSections.Pipe(nps, cells[1]);
            Assert.True(pipe is not null, $"{nps} {cells[1]}");
            Assert.Equal(double.Parse(cells[2], CultureInfo.InvariantCulture), pipe.Value.OdMm, 9);
            Assert.Equal(double.Parse(cells[3], CultureInfo.InvariantCulture), pipe.Value.WallMm, 9);
            var section = SectionNotation.Parse($"pipe {nps} in sch {cells[1]}").Section!;
            Assert.Equal(pipe.Value.OdMm, section.HeightMm, 9);
        }

        Assert.Equal(lines.Length, sizes.Sum(s => StandardSections.Schedules(s).Count));
    }

    /// <summary>A size as the trade writes it: 1.5 is 1-1/2.</summary>
    private static string Trade(double size)
    {
        var whole = (int)size;
        var fraction = (size - whole) switch { 0.125 => "1/8", 0.25 => "1/4", 0.375 => "3/8", 0.5 => "1/2", 0.75 => "3/4", _ => "" };
        return fraction.Length == 0 ? whole.ToString(CultureInfo.InvariantCulture) : whole == 0 ? fraction : $"{whole}-{fraction}";
    }
}
