using System.Globalization;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace SawEdge.Gateway.Forwarding.DailyFiles;

/// <summary>One file as the list beside it tells of it.</summary>
/// <param name="Name">Name of the file.</param>
/// <param name="Date">The plant's date on which its cycles started.</param>
/// <param name="From">When that date began.</param>
/// <param name="To">When it ended.</param>
/// <param name="Rows">Cycles in it.</param>
/// <param name="Bytes">Its length; what stands behind is not written to its end and does not count.</param>
/// <param name="Sha256">Of its bytes, in hexadecimal; null while cycles are still added.</param>
/// <param name="IsComplete">Whether the date is over and nothing will be added.</param>
/// <param name="Revision">How often it was written anew because cycles were corrected, or came late; readers who have a smaller one read it again.</param>
public sealed record DailyFile(string Name, DateOnly Date, DateTimeOffset From, DateTimeOffset To, long Rows, long Bytes, string? Sha256, bool IsComplete, int Revision);

/// <summary>The list beside daily files: what is whole and may be read. It is replaced as a whole, after the files were written.</summary>
/// <param name="Table">What the rows are.</param>
/// <param name="Columns">The columns of the files.</param>
/// <param name="TimeZone">The plant's time zone, which dates are meant in.</param>
/// <param name="Through">The number in the history's journal up to which everything is in the files.</param>
/// <param name="Files">The files, by date.</param>
public sealed record DailyManifest(string Table, IReadOnlyList<string> Columns, string TimeZone, long Through, IReadOnlyList<DailyFile> Files)
{
    /// <summary>Name of the list in its folder.</summary>
    public const string FileName = "manifest.json";

    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        WriteIndented = true,
        NewLine = "\n",
        Converters = { new Moments() },
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Skip,
        RespectNullableAnnotations = true,
        RespectRequiredConstructorParameters = true,
    };

    /// <summary>Reads the list of a folder; null where there is none.</summary>
    /// <exception cref="InvalidDataException">What stands there is none.</exception>
    /// <exception cref="IOException">It cannot be read.</exception>
    public static DailyManifest? Read(string folder)
    {
        var path = Path.Combine(folder, FileName);
        if (!File.Exists(path))
            return null;
        try
        {
            return JsonSerializer.Deserialize<DailyManifest>(File.ReadAllBytes(path), Json) ?? throw new InvalidDataException($"{path} holds nothing.");
        }
        catch (JsonException e)
        {
            throw new InvalidDataException($"{path} is no list of daily files: {e.Message}", e);
        }
    }

    /// <summary>Its bytes.</summary>
    public byte[] ToBytes() => [.. JsonSerializer.SerializeToUtf8Bytes(this, Json), (byte)'\n'];

    /// <summary>The same with another file in place of the one of its date.</summary>
    public DailyManifest With(DailyFile file) => this with { Files = [.. Files.Where(other => other.Date != file.Date).Append(file).OrderBy(other => other.Date)] };

    private sealed class Moments : JsonConverter<DateTimeOffset>
    {
        public override DateTimeOffset Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => reader.GetDateTimeOffset();

        public override void Write(Utf8JsonWriter writer, DateTimeOffset value, JsonSerializerOptions options) => writer.WriteStringValue(value.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture));
    }
}
