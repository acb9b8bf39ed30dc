using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Histories;

/// <summary>What <c>history status --format json</c> prints.</summary>
internal static class HistoryJsonShapes
{
    /// <summary>The shape.</summary>
    public static object Of(HistoryStock stock, bool isHeld) => new
    {
        File = stock.FilePath,
        GatewayRuns = isHeld,
        Schema = stock.Version,
        stock.FileBytes,
        stock.LogBytes,
        stock.PageBytes,
        stock.Pages,
        stock.FreePages,
        LastJournalNumber = stock.LastSequence,
        Kinds = stock.OfKinds.Select(kind => new { kind.Name, kind.Rows, ContentBytes = kind.Bytes, kind.Oldest, kind.Newest }),
        SetAside = stock.Aside.Select(file => new { File = file, Bytes = new FileInfo(file).Length }),
    };
}
