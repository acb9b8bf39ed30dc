namespace SawEdge.Gateway.Acquisition;

/// <summary>What can go wrong with what comes from a saw.</summary>
public enum SourceError
{
    /// <summary>The device or the broker could not be reached.</summary>
    Connection,

    /// <summary>A Modbus request brought no values.</summary>
    Request,

    /// <summary>A message could not be read.</summary>
    Payload,

    /// <summary>A message's time could not be used.</summary>
    Time,

    /// <summary>A frame was left out because it came before, or late.</summary>
    Order,

    /// <summary>A value could not be used.</summary>
    Value,

    /// <summary>A Sparkplug metric came that was not born.</summary>
    Metric,
}

/// <summary>How often something went wrong with what comes from one saw. Safe for any number of threads.</summary>
public sealed class SourceErrors
{
    private readonly long[] _counts = new long[Enum.GetValues<SourceError>().Length];

    /// <summary>How often so far.</summary>
    public long Of(SourceError kind) => Interlocked.Read(ref _counts[(int)kind]);

    /// <summary>It happened once more.</summary>
    public void Count(SourceError kind) => Interlocked.Increment(ref _counts[(int)kind]);
}
