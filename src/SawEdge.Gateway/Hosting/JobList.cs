using Microsoft.Extensions.Logging;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// The job list file: read at the start and again whenever it changes. Broken rows are refused by line, and leave the job that they are about as it was; a list that
/// cannot be read, or holds no job any more, leaves the last good one in place.
/// </summary>
internal sealed class JobList
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(2);

    private readonly string _file;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly MaterialCatalogue _catalogue;
    private (DateTime Written, long Length)? _seen;
    private (DateTime Written, long Length)? _told;
    private bool _isLoaded;

    /// <summary>Prepares a list.</summary>
    /// <param name="file">The file.</param>
    /// <param name="time">The clock of the looks for a change.</param>
    /// <param name="logger">Where it speaks.</param>
    /// <param name="catalogue">Where the jobs' materials are looked up; null for the program's own catalogue.</param>
    /// <param name="before">The jobs that hold until this list was read, where it takes the place of another; or null.</param>
    public JobList(string file, TimeProvider time, ILogger<JobList> logger, MaterialCatalogue? catalogue = null, JobBook? before = null)
    {
        (Book, _isLoaded) = (before ?? JobBook.Empty, before is not null);
        _catalogue = catalogue ?? MaterialCatalogue.BuiltIn;
        _file = file;
        _time = time;
        _logger = logger;
    }

    /// <summary>The jobs as last read.</summary>
    public JobBook Book { get; private set; }

    /// <summary>Reads the file if it changed since the last time.</summary>
    /// <returns>Whether <see cref="Book"/> is a new one.</returns>
    public bool Load()
    {
        var info = new FileInfo(_file);
        var stamp = info.Exists ? (info.LastWriteTimeUtc, info.Length) : default;
        if (stamp == _seen)
            return false;
        string text;
        try
        {
            text = File.ReadAllText(_file);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // Looked at again each time, for what keeps it from being read may pass; told once.
            if (_told != stamp)
                HostingLog.JobsKept(_logger, _file, e.Message, Book.Count);
            _told = stamp;
            return false;
        }

        (_seen, _told) = (stamp, null);
        var parse = Parse(_file, text, _catalogue);
        foreach (var error in parse.Errors)
            HostingLog.JobRowRefused(_logger, _file, error.ToString());

        // What is wrong about a job changes nothing of it.
        var book = parse.Book.With(Book, parse.Errors.Select(error => error.JobId).OfType<string>());
        foreach (var kept in book.Jobs.Where(job => parse.Book.Find(job.JobId) is null).OrderBy(job => job.JobId, StringComparer.Ordinal))
            HostingLog.JobStays(_logger, _file, kept.JobId);
        if (parse.Book.Count == 0 && Book.Count > 0)
        {
            HostingLog.JobsKept(_logger, _file, "it holds no usable job", Book.Count);
            return false;
        }

        var before = Book;
        Book = book;
        HostingLog.JobsLoaded(_logger, _file, Book.Count);
        if (_isLoaded && JobDiff.Of(before, book) is { Length: > 0 } told)
            HostingLog.JobsChanged(_logger, _file, told);
        _isLoaded = true;
        return true;
    }

    /// <summary>Reads the text of a job list: JSON or CSV as the file's ending says, otherwise as the text shows.</summary>
    /// <param name="file">The file.</param>
    /// <param name="text">Its text.</param>
    /// <param name="catalogue">Where the jobs' materials are looked up.</param>
    public static JobBookParse Parse(string file, string text, MaterialCatalogue catalogue) => JobBook.Parse(text, catalogue, Path.GetExtension(file).ToUpperInvariant() switch
    {
        ".JSON" => true,
        ".CSV" => false,
        _ => null,
    });

    /// <summary>Looks for changes until cancelled.</summary>
    /// <param name="onChange">Told of each new list.</param>
    /// <param name="cancellation">Ends it.</param>
    public async Task FollowAsync(Action<JobBook> onChange, CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, _time);
        try
        {
            while (await look.WaitForNextTickAsync(cancellation))
            {
                if (Load())
                    onChange(Book);
            }
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            // The orderly end.
        }
    }
}
