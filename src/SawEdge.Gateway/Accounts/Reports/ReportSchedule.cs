using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>
/// Writes the reports that the configuration asks for, each some minutes after its span is over: what is stored lags a little behind. One that
/// was missed because the gateway stood still is written at the next start; one that is there is not written again.
/// </summary>
/// <param name="options">The configuration.</param>
/// <param name="oee">The figures.</param>
/// <param name="reports">Gathers what they say.</param>
/// <param name="machine">The machine clock.</param>
/// <param name="logger">Where it speaks.</param>
public sealed class ReportSchedule(GatewayOptions options, OeeService oee, ReportReader reports, TimeProvider machine, ILogger<ReportSchedule> logger)
{
    /// <summary>How long after the end of its span a report is written.</summary>
    public static readonly TimeSpan After = TimeSpan.FromMinutes(10);

    private static readonly TimeSpan LookEvery = TimeSpan.FromMinutes(1);

    private readonly HashSet<(string Folder, ReportEach Each)> _inTrouble = [];

    /// <summary>Writes until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, machine);
        do
            await LookAsync(cancellation);
        while (await look.WaitForNextTickAsync(cancellation));
    }

    /// <summary>Writes what is due.</summary>
    public async Task LookAsync(CancellationToken cancellation)
    {
        if (!oee.HasCalendar)
            return;
        foreach (var wanted in options.Reports)
        {
            if (ReportSpan.LastBefore(oee.Calendar.Calendar, wanted.Each, oee.Now - After) is { } span && !File.Exists(ReportWriter.NamesOf(wanted.Folder, options.Gateway, span).Html))
                await WriteAsync(wanted, span, cancellation);
        }
    }

    private async Task WriteAsync(ReportOptions wanted, ReportSpan span, CancellationToken cancellation)
    {
        try
        {
            var report = await reports.ReadAsync(span, cancellation);
            var (html, _) = ReportWriter.Write(wanted.Folder, report);
            _inTrouble.Remove((wanted.Folder, wanted.Each));
            AccountsLog.ReportWritten(logger, html);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or (HistoryException and not HistoryCorruptException))
        {
            if (_inTrouble.Add((wanted.Folder, wanted.Each)))
                AccountsLog.ReportFailed(logger, span.Title, wanted.Folder, e.Message);
        }
    }
}
