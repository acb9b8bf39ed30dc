using System.Globalization;
using System.IO.Compression;
using System.Text;
using System.Text.RegularExpressions;
using SawEdge.Gateway.Hosting;

namespace SawEdge.Gateway.Commands.Support;

/// <summary>A part of a file for support.</summary>
/// <param name="Name">Its name in the file.</param>
/// <param name="What">What it holds.</param>
/// <param name="Write">Makes it.</param>
internal sealed record SupportPart(string Name, string What, Func<TextWriter, CancellationToken, Task> Write);

/// <summary>A part cannot be made; the message says why, and is for whoever reads the file.</summary>
internal sealed class PartMissingException(string message) : Exception(message);

/// <summary>Puts the parts together: one that cannot be made is said and holds up no other; secrets are taken out of all of them.</summary>
/// <param name="parts">The parts.</param>
/// <param name="subject">The gateway.</param>
/// <param name="time">The clock.</param>
internal sealed partial class SupportBundle(SupportParts parts, SupportSubject subject, TimeProvider time)
{
    private const string Removed = "(removed)";

    /// <summary>Writes it.</summary>
    /// <returns>What is not in it, and why.</returns>
    public async Task<IReadOnlyList<string>> WriteAsync(ZipArchive zip, CancellationToken cancellation)
    {
        var (written, missing) = (new List<SupportPart>(), new List<string>());
        foreach (var part in parts.All)
        {
            var text = new StringWriter(CultureInfo.InvariantCulture);
            var trouble = await TryAsync(part, text, cancellation);
            if (trouble is not null)
                missing.Add($"{part.Name}: {Clean(trouble)}");

            // What was made until then may be the very thing that is sought.
            if (trouble is not null && text.GetStringBuilder().Length == 0)
                continue;
            if (trouble is not null)
                text.WriteLine($"\n(It ends here: {trouble})");
            written.Add(part);
            await EnterAsync(zip, part.Name, Clean(text.ToString()), cancellation);
        }

        await EnterAsync(zip, "README.txt", Clean(Readme(written, missing)), cancellation);
        return missing;
    }

    /// <summary>Takes known secrets out of a text, and what looks like one.</summary>
    internal string Clean(string text)
    {
        var cleaned = subject.Redacted?.Clean(text) ?? text;
        cleaned = UserInAddress().Replace(cleaned, $"$1{Removed}@");
        cleaned = Authorization().Replace(cleaned, $"$1{Removed}");
        return OwnToken().Replace(cleaned, Removed);
    }

    private static async Task<string?> TryAsync(SupportPart part, StringWriter text, CancellationToken cancellation)
    {
        try
        {
            await part.Write(text, cancellation);
            return null;
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            throw;
        }
        catch (Exception e) when (e is PartMissingException or CommandException or History.HistoryException)
        {
            return e.Message;
        }
        catch (Exception e)
        {
            // Whatever is broken: that is what the file is for, and the reader can make something of the kind of error.
            return $"{e.GetType().Name}: {e.Message}";
        }
    }

    private string Readme(List<SupportPart> written, List<string> missing)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"Made by 'sawedge support' {GatewayFigures.Version} at {time.GetUtcNow():yyyy-MM-dd HH:mm:ss}Z.\n\n");
        text.Append("Passwords, tokens, keys and headers are taken out, of addresses all but scheme, host and port, and whatever in the configuration nobody\n");
        text.Append("knows. Where one of them stood elsewhere, as in the log, it reads \"(removed)\" as well; secrets shorter than 4 characters are not sought there.\n\n");
        text.Append("STILL IN IT, because nothing could be made out without: names of saws, jobs, materials and blades; host names, addresses, users and paths;\n");
        text.Append("mail addresses of contacts; names of people who answered alarms, and what they wrote. Look through it before you hand it on.\n\n");
        foreach (var part in written)
            text.Append(CultureInfo.InvariantCulture, $"{part.Name,-20} {part.What}\n");
        if (missing.Count > 0)
            text.Append("\nNot there, or not whole:\n");
        foreach (var line in missing)
            text.Append(CultureInfo.InvariantCulture, $"  {line}\n");
        return text.ToString();
    }

    private async Task EnterAsync(ZipArchive zip, string name, string text, CancellationToken cancellation)
    {
        var entry = zip.CreateEntry(name, CompressionLevel.Optimal);
        entry.LastWriteTime = TimeZoneInfo.ConvertTime(time.GetUtcNow(), time.LocalTimeZone);
        await using var stream = await entry.OpenAsync(cancellation);
        await stream.WriteAsync(Encoding.UTF8.GetBytes(text), cancellation);
    }

    [GeneratedRegex(@"(\b[A-Za-z][A-Za-z0-9+.-]*://)[^\s/@""']+@")]
    private static partial Regex UserInAddress();

    // As headers are written.
    [GeneratedRegex(@"(\b(?:Bearer|Basic|Token)\s+)[A-Za-z0-9+/=_.~-]{20,}", RegexOptions.IgnoreCase)]
    private static partial Regex Authorization();

    // As Api/ApiToken makes them.
    [GeneratedRegex(@"\bsawedge_[A-Za-z0-9_-]{43}")]
    private static partial Regex OwnToken();
}
