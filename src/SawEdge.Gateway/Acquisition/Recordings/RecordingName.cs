using System.Globalization;
using System.Text.RegularExpressions;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>What a file of the gateway's own recordings is.</summary>
internal enum RecordingForm : byte
{
    /// <summary>As it was written.</summary>
    Plain,

    /// <summary>Ended and compressed.</summary>
    Compressed,

    /// <summary>A compression that is under way, or that was broken off: of no use.</summary>
    Draft,
}

/// <summary>
/// Name of a file that the gateway wrote: when it was begun (UTC), and a number where several were begun in one second. Only files of such
/// names are compressed or removed, and they are read one after another: in the order of their names.
/// </summary>
/// <param name="Begun">When it was begun, UTC.</param>
/// <param name="Number">From 1, of the files of one second.</param>
/// <param name="Form">What it is.</param>
internal readonly partial record struct RecordingName(DateTime Begun, int Number, RecordingForm Form) : IComparable<RecordingName>
{
    private const string Moment = "yyyy-MM-dd'T'HHmmss'Z'";
    private static readonly string[] Endings = [".csv", ".csv.gz", ".csv.gz.part"];

    /// <summary>The name, without a folder.</summary>
    public override string ToString()
    {
        var number = Number == 1 ? "" : string.Create(CultureInfo.InvariantCulture, $"-{Number}");
        return $"recording-{Begun.ToString(Moment, CultureInfo.InvariantCulture)}{number}{Endings[(int)Form]}";
    }

    /// <summary>Whether a file is one that the gateway wrote.</summary>
    /// <param name="path">The file.</param>
    /// <param name="name">What it is.</param>
    public static bool TryParse(string path, out RecordingName name)
    {
        name = default;
        var match = Rule().Match(Path.GetFileName(path));
        if (!match.Success || !DateTime.TryParseExact(match.Groups["begun"].Value, Moment, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal | DateTimeStyles.AdjustToUniversal, out var begun))
            return false;
        var number = match.Groups["number"] is { Success: true } group ? int.Parse(group.Value, CultureInfo.InvariantCulture) : 1;
        name = new RecordingName(begun, number, (RecordingForm)Array.IndexOf(Endings, match.Groups["ending"].Value));
        return true;
    }

    /// <summary>By the moment, then by the number.</summary>
    public int CompareTo(RecordingName other)
    {
        var begun = Begun.CompareTo(other.Begun);
        return begun != 0 ? begun : Number != other.Number ? Number.CompareTo(other.Number) : Form.CompareTo(other.Form);
    }

    [GeneratedRegex(@"^recording-(?<begun>[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{6}Z)(?:-(?<number>[1-9][0-9]{0,5}))?(?<ending>\.csv(?:\.gz(?:\.part)?)?)\z", RegexOptions.CultureInvariant)]
    private static partial Regex Rule();
}
