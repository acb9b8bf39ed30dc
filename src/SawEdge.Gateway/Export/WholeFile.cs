using System.Runtime.InteropServices;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Export;

/// <summary>
/// A file that is there whole or not at all: written under another name in the same folder, brought to the disk, then renamed.
/// </summary>
internal static class WholeFile
{
    /// <summary>How the name ends under which a file is written.</summary>
    public const string DraftEnding = ".part";

    // SIGXFSZ, on Linux and macOS alike (signal(7)).
    private const int FileSizeSignal = 25;

    private const int TooLarge = 27;

    // errno of Linux (asm-generic/errno-base.h, errno.h), which .NET gives as the result of an exception, and the codes of Windows (winerror.h).
    private static readonly Dictionary<int, string> Causes = new()
    {
        [28] = "the disk is full; make room",
        [unchecked((int)0x80070070)] = "the disk is full; make room",
        [unchecked((int)0x80070027)] = "the disk is full; make room",
        [122] = "the user's share of the disk is used up; make room",
        [TooLarge] = "it grows larger than the system allows; ask for less at once, or for a compressed file",
        [30] = "the disk is read-only; name another folder",
        [5] = "the disk answered with an error; check it",
    };

    /// <summary>Writes a file. Whatever goes wrong, the file that was there before stays and no half file is left.</summary>
    /// <param name="path">The file; a link stays one, and what it names is replaced.</param>
    /// <param name="write">Writes the content to a stream that cannot seek back; an exception breaks off.</param>
    /// <returns>What the writing gave.</returns>
    /// <exception cref="IOException">It cannot be written; the message names the file, the cause, and what to do.</exception>
    public static async Task<T> WriteAsync<T>(string path, Func<Stream, Task<T>> write)
    {
        string? draft = null;
        using var tooLarge = GrowsTooLarge();
        try
        {
            var file = Target(path);
            var folder = Path.GetDirectoryName(file)!;

            // The name is not to grow too long with it: most file systems end at 255 bytes.
            draft = Path.Combine(folder, $".{Guid.NewGuid():n}{DraftEnding}");
            T result;
            await using (var stream = new FileStream(draft, new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write, Share = FileShare.Read, BufferSize = 0 }))
            {
                result = await write(stream);
                stream.Flush(flushToDisk: true);
            }

            File.Move(draft, file, overwrite: true);
            draft = null;
            FolderFlush.Run(folder);
            return result;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException || IsTooLarge(e))
        {
            throw Explained(path, e);
        }
        finally
        {
            if (draft is not null)
                Remove(draft);
        }
    }

    // A file that grows larger than the system allows (ulimit -f) would end the process by a signal; passed over, it is an error of the write.
    private static PosixSignalRegistration? GrowsTooLarge() =>
        OperatingSystem.IsLinux() || OperatingSystem.IsMacOS() ? PosixSignalRegistration.Create((PosixSignal)FileSizeSignal, signal => signal.Cancel = true) : null;

    private static string Target(string path)
    {
        if (path.Length == 0 || path.Contains('\0'))
            throw new IOException("the name of the file is empty or damaged; name a file");
        var full = Path.GetFullPath(path);

        // The question for a target throws where there is no file yet.
        if (new FileInfo(full).LinkTarget is not null)
            full = File.ResolveLinkTarget(full, returnFinalTarget: true)!.FullName;
        if (Directory.Exists(full))
            throw new IOException("it is a folder; name a file in it");
        if (!Directory.Exists(Path.GetDirectoryName(full)))
            throw new IOException($"there is no folder '{Path.GetDirectoryName(full)}'; make it first");
        return full;
    }

    // That a file grows too large .NET gives as a wrong argument, in place of an error of the disk.
    private static bool IsTooLarge(Exception e) => e is ArgumentOutOfRangeException { ParamName: "value", TargetSite.DeclaringType: { } type } && type == typeof(RandomAccess);

    private static IOException Explained(string path, Exception e)
    {
        var cause = IsTooLarge(e) ? Causes[TooLarge] : e is UnauthorizedAccessException ? "the right to write there is missing; grant it, or name another folder" : Causes.GetValueOrDefault(e.HResult, e.Message);
        return new IOException($"'{path}' cannot be written: {cause.TrimEnd('.')}.", e);
    }

    private static void Remove(string draft)
    {
        try
        {
            File.Delete(draft);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // What kept it from being written keeps it from being removed; that is on its way to the caller, and is what has to be dealt with.
        }
    }
}
