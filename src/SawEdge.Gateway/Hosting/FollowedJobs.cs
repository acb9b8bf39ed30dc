using Microsoft.Extensions.Logging;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Hosting;

/// <summary>The job list of a gateway that runs, whichever file the configuration names.</summary>
internal sealed class FollowedJobs
{
    private readonly TimeProvider _time;
    private readonly ILogger<JobList> _logger;
    private readonly ExchangeableLoop _loop;
    private string? _file;
    private JobList? _list;

    /// <summary>Reads the list for the first time.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="time">The clock of the looks.</param>
    /// <param name="logger">Where it speaks.</param>
    public FollowedJobs(GatewayOptions options, TimeProvider time, ILogger<JobList> logger)
    {
        (_time, _logger) = (time, logger);
        _list = Open(options, before: null);
        _loop = new ExchangeableLoop(Follow(_list));
    }

    /// <summary>The jobs as last read. Safe for any thread.</summary>
    public JobBook Book => Volatile.Read(ref _list)?.Book ?? JobBook.Empty;

    /// <summary>Told of each new list.</summary>
    public Action<JobBook> OnChange { get; set; } = _ => { };

    /// <summary>Follows the file until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public Task RunAsync(CancellationToken cancellation) => _loop.RunAsync(cancellation);

    /// <summary>Goes over to another file, or to none.</summary>
    public void TakeOver(GatewayOptions options)
    {
        if (options.JobsFile == _file)
            return;
        var list = Open(options, Book);
        Volatile.Write(ref _list, list);
        OnChange(Book);
        _loop.Exchange(Follow(list));
    }

    // A list that cannot be read leaves the jobs of the one before in place.
    private JobList? Open(GatewayOptions options, JobBook? before)
    {
        _file = options.JobsFile;
        if (_file is null)
            return null;
        var list = new JobList(_file, _time, _logger, options.Catalogue, before);
        list.Load();
        return list;
    }

    private Func<CancellationToken, Task> Follow(JobList? list) => list is null
        ? cancellation => Task.Delay(Timeout.InfiniteTimeSpan, cancellation)
        : cancellation => list.FollowAsync(book => OnChange(book), cancellation);
}
