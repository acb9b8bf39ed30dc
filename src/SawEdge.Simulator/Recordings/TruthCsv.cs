using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Recordings;

/// <summary>Writes what really happened as CSV. Times keep 100 ns, since records interpolate between frames.</summary>
public static class TruthCsv
{
    private static readonly (string Name, Func<SawTruth, string> Get)[] Columns =
    [
        ("saw", t => t.Saw),
        ("cycle", t => t.Cycle.ToString(CultureInfo.InvariantCulture)),
        ("started_at", t => Time(t.Started)),
        ("contact_at", t => Time(t.Contact)),
        ("breakthrough_at", t => Time(t.Breakthrough)),
        ("left_at", t => Time(t.Left)),
        ("blade_lost_at", t => Time(t.BladeLost)),
        ("raised_at", t => Time(t.Raised)),
        ("ended_at", t => Time(t.Ended)),
        ("outcome", t => t.Outcome?.ToName() ?? ""),
        ("depth_mm", t => Number(t.DepthMm)),
        ("cut_time_s", t => t.CutTimeS is { } s ? Number(s) : ""),
        ("holds_s", t => string.Join(';', t.Holds.Select(hold => Number(hold.DurationS)))),
        ("part_count", t => t.PartCount.ToString(CultureInfo.InvariantCulture)),
        ("job", t => t.Job.Id),
        ("controller_job", t => t.ControllerJob),
        ("material", t => t.Material.Name),
        ("section", t => t.Job.Section.Notation),
        ("part_length_mm", t => Number(t.Job.PartLengthMm)),
        ("bar", t => t.Bar),
        ("blade", t => t.Blade),
        ("blade_area_m2", t => Number(t.BladeAreaM2)),
        ("blade_life_used", t => Number(t.BladeLifeUsed)),
        ("wear_factor", t => Number(t.WearFactor)),
        ("cut_area_cm2", t => Number(t.CutAreaCm2)),
        ("cutting_energy_kj", t => Number(t.EnergyKj)),
        ("faults", t => string.Join(';', t.Faults)),
    ];

    /// <summary>Writes a header and one row a cycle.</summary>
    public static void Write(IEnumerable<SawTruth> truths, TextWriter writer)
    {
        writer.Write(string.Join(',', Columns.Select(column => column.Name)));
        writer.Write('\n');
        foreach (var truth in truths)
        {
            for (var i = 0; i < Columns.Length; i++)
            {
                if (i > 0)
                    writer.Write(',');
                FrameCsv.WriteText(writer, Columns[i].Get(truth));
            }

            writer.Write('\n');
        }
    }

    private static string Time(DateTimeOffset? time) => time?.UtcDateTime.ToString("yyyy-MM-ddTHH:mm:ss.fffffffZ", CultureInfo.InvariantCulture) ?? "";

    private static string Number(double value) => value.ToString("0.######", CultureInfo.InvariantCulture);
}
