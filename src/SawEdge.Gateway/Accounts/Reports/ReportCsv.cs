using System.Buffers;
using System.Globalization;
using System.Text;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>
/// The figures of a report as a table, a row for each saw and shift: RFC 4180 with LF, UTF-8, times as RFC 3339 in UTC, spans in seconds.
/// Numerators and denominators stand beside the figures, so that rows can be added up.
/// </summary>
internal static class ReportCsv
{
    private static readonly (string Name, Func<OeeBuckets, double> Of)[] Columns =
    [
        ("planned_busy_s", b => b.PlannedBusyTime.TotalSeconds),
        ("observed_s", b => b.Observed.TotalSeconds),
        ("actual_production_s", b => b.ActualProductionTime.TotalSeconds),
        ("planned_run_s", b => b.PlannedRunTime.TotalSeconds),
        ("good_run_s", b => b.GoodRunTime.TotalSeconds),
        .. Enum.GetValues<OeeBucket>().Select(bucket => (bucket.ToName() + "_s", (Func<OeeBuckets, double>)(b => b[bucket].TotalSeconds))),
        .. Enum.GetValues<OeeBeside>().Select(beside => (beside.ToName() + "_s", (Func<OeeBuckets, double>)(b => b[beside].TotalSeconds))),
        .. Enum.GetValues<OeeCount>().Select(count => ((count is OeeCount.WithoutStandard or OeeCount.Lost ? "cuts_" : "") + count.ToName(), (Func<OeeBuckets, double>)(b => b[count]))),
        ("availability", b => b.Figures.Availability),
        ("effectiveness", b => b.Figures.Effectiveness),
        ("quality_ratio", b => b.Figures.QualityRatio),
        ("oee", b => b.Figures.Oee),
    ];

    /// <summary>Writes it.</summary>
    public static void Write(IBufferWriter<byte> destination, ReportData report)
    {
        Encoding.UTF8.GetBytes("saw,shift,date,from,to," + string.Join(',', Columns.Select(column => column.Name)) + ",counter_difference\n", destination);
        foreach (var item in report.Shifts)
        {
            CsvText.WriteForSpreadsheet(destination, item.Subject);
            destination.Write(","u8);
            CsvText.WriteForSpreadsheet(destination, item.Label);
            var row = new StringBuilder();
            row.Append(CultureInfo.InvariantCulture, $",{item.Date:yyyy-MM-dd},{item.Time.From:yyyy-MM-ddTHH:mm:ss.fffZ},{item.Time.To:yyyy-MM-ddTHH:mm:ss.fffZ}");
            foreach (var (_, of) in Columns)
            {
                // What is not known stays empty.
                var value = of(item.Buckets);
                row.Append(',').Append(double.IsFinite(value) ? value.ToString("R", CultureInfo.InvariantCulture) : "");
            }

            row.Append(CultureInfo.InvariantCulture, $",{item.Counter?.Difference}\n");
            Encoding.UTF8.GetBytes(row.ToString(), destination);
        }
    }
}
