using System.Collections.Frozen;
using System.IO.Compression;
using System.Reflection;
using Microsoft.Net.Http.Headers;

namespace SawEdge.Gateway.Api;

/// <summary>The files of the page, as they are inside the program, each compressed once for all who want it.</summary>
internal static class PageFiles
{
    private const string Prefix = "page/";

    private static readonly FrozenDictionary<string, PageFile> All = Read();

    /// <summary>The names of all files, as <c>app.js</c>.</summary>
    public static IEnumerable<string> Names => All.Keys;

    /// <summary>A file by its name; null where there is none.</summary>
    public static PageFile? Find(string name) => All.GetValueOrDefault(name);

    /// <summary>Makes the smallest form of all files, in the background: it takes seconds.</summary>
    public static Task CompressAsync(CancellationToken cancellation) => Task.Run(
        () =>
        {
            foreach (var file in All.Values)
            {
                cancellation.ThrowIfCancellationRequested();
                file.Compress();
            }
        },
        cancellation);

    private static FrozenDictionary<string, PageFile> Read()
    {
        var assembly = typeof(PageFiles).Assembly;
        return assembly.GetManifestResourceNames()
            .Select(resource => (Resource: resource, Name: resource.Replace('\\', '/')))
            .Where(entry => entry.Name.StartsWith(Prefix, StringComparison.Ordinal))
            .ToFrozenDictionary(entry => entry.Name[Prefix.Length..], entry => new PageFile(entry.Name[Prefix.Length..], Content(assembly, entry.Resource)), StringComparer.Ordinal);
    }

    private static byte[] Content(Assembly assembly, string resource)
    {
        using var stream = assembly.GetManifestResourceStream(resource)!;
        var content = new byte[stream.Length];
        stream.ReadExactly(content);
        return content;
    }
}

/// <summary>One file of the page.</summary>
internal sealed class PageFile
{
    private readonly byte[] _plain;
    private readonly Lazy<byte[]> _gzip;
    private readonly string _tag;
    private volatile byte[]? _brotli;

    /// <summary>Takes a file.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="content">Its content.</param>
    public PageFile(string name, byte[] content)
    {
        _plain = content;
        _gzip = new Lazy<byte[]>(() => Compressed(stream => new GZipStream(stream, CompressionLevel.Optimal)));
        _tag = ApiAnswer.TagOf(content).Trim('"');
        ContentType = TypeOf(Path.GetExtension(name));
    }

    /// <summary>What it is.</summary>
    public string ContentType { get; }

    /// <summary>The content in the best form that a browser takes, and the name of that form; null: as it is.</summary>
    public (byte[] Content, string? Encoding) For(IList<StringWithQualityHeaderValue> accepted)
    {
        if (!IsText || _plain.Length < 512)
            return (_plain, null);
        if (_brotli is { } brotli && Takes(accepted, "br"))
            return (brotli, "br");
        return Takes(accepted, "gzip") ? (_gzip.Value, "gzip") : (_plain, null);
    }

    /// <summary>The ETag of a form.</summary>
    public string TagOf(string? encoding) => $"\"{_tag}{(encoding is null ? "" : $"-{encoding}")}\"";

    /// <summary>Makes its smallest form.</summary>
    public void Compress()
    {
        if (IsText)
            _brotli ??= Compressed(stream => new BrotliStream(stream, CompressionLevel.SmallestSize));
    }

    private bool IsText => !ContentType.StartsWith("image/", StringComparison.Ordinal) || ContentType.StartsWith("image/svg", StringComparison.Ordinal);

    private static bool Takes(IList<StringWithQualityHeaderValue> accepted, string encoding) =>
        accepted.Any(value => value.Value.Equals(encoding, StringComparison.OrdinalIgnoreCase) && value.Quality is null or > 0);

    private static string TypeOf(string extension) => extension switch
    {
        ".html" => "text/html; charset=utf-8",
        ".css" => "text/css; charset=utf-8",
        ".js" => "text/javascript; charset=utf-8",
        ".json" => "application/json; charset=utf-8",
        ".webmanifest" => "application/manifest+json",
        ".svg" => "image/svg+xml",
        ".png" => "image/png",
        ".ico" => "image/x-icon",
        ".txt" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    };

    private byte[] Compressed(Func<Stream, Stream> make)
    {
        using var result = new MemoryStream();
        using (var stream = make(result))
            stream.Write(_plain);
        return result.ToArray();
    }
}
