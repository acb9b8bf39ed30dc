namespace SawEdge.Torture;

/// <summary>One kind of ill treatment, and the checks that nothing was lost, doubled or made up by it.</summary>
internal interface ITrial
{
    /// <summary>Its name on the command line.</summary>
    string Name { get; }

    /// <summary>What it does, in one line.</summary>
    string Describes { get; }

    /// <summary>Ill-treats and checks.</summary>
    /// <param name="run">Seed, extent, and where checks and figures are told.</param>
    /// <param name="cancellation">Ends it early.</param>
    Task RunAsync(TrialRun run, CancellationToken cancellation);
}
