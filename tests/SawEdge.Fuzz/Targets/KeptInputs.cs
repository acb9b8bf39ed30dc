namespace SawEdge.Fuzz.Targets;

/// <summary>The inputs of <c>Corpus</c> and <c>Found</c>, which the ordinary tests give to the targets again.</summary>
internal static class KeptInputs
{
    /// <summary>Gives a target its seeds and all inputs that are kept for it.</summary>
    /// <returns>How many files there were.</returns>
    public static int Replay(IFuzzTarget target)
    {
        foreach (var seed in target.Seeds)
            Run(target, seed, "a seed");
        var files = new[] { "Corpus", "Found" }
            .Select(folder => Path.Combine(AppContext.BaseDirectory, folder, target.Name))
            .Where(Directory.Exists)
            .SelectMany(Directory.GetFiles)
            .ToList();
        foreach (var file in files)
            Run(target, File.ReadAllBytes(file), Path.GetFileName(file));
        return files.Count;
    }

    private static void Run(IFuzzTarget target, byte[] input, string name)
    {
        try
        {
            target.Run(input);

            // Again, because what is made once is made only then.
            var allocated = GC.GetAllocatedBytesForCurrentThread();
            target.Run(input);
            allocated = GC.GetAllocatedBytesForCurrentThread() - allocated;
            FuzzFinding.Unless(allocated <= target.MostAllocated(input.Length), $"it allocates {allocated} bytes, at most {target.MostAllocated(input.Length)} are due");
        }
        catch (Exception e)
        {
            throw new InvalidOperationException($"{target.Name}, {name}: {e.Message}", e);
        }
    }
}
