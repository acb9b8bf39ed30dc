namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>Turns the rows of one recording into frames.</summary>
internal interface IRowParser
{
    /// <summary>Reads one row.</summary>
    /// <returns>False where the row is empty or has to be dropped, which was said.</returns>
    bool TryParse(ReadOnlySpan<byte> text, bool quoted, CsvRows rows, ref RecordedFrame row);
}
