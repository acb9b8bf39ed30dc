using System.Diagnostics;
using System.Security.Cryptography;
using SawEdge.Fuzz.Targets;

namespace SawEdge.Fuzz;

/// <summary>One target fed with inputs, those kept that reach something new. What goes wrong is written to a file, and the run goes on.</summary>
internal sealed class FuzzRun(IFuzzTarget target, FuzzArguments arguments)
{
    private const int Slow = 250;
    private static readonly TimeSpan Hang = TimeSpan.FromSeconds(20);

    private readonly CoverageMap _map = new();
    private readonly List<byte[]> _corpus = [];
    private readonly Dictionary<string, int> _findings = new(StringComparer.Ordinal);
    private readonly Lock _lock = new();
    private byte[] _present = new byte[target.MaximumLength];
    private int _presentLength;
    private long _presentSince;
    private long _inputs;

    /// <summary>Runs.</summary>
    /// <returns>How many kinds of things went wrong.</returns>
    public int Run()
    {
        using var watch = new Timer(_ => EndIfItHangs(), null, Hang, TimeSpan.FromSeconds(1));
        foreach (var seed in target.Seeds.Concat(Kept().Select(File.ReadAllBytes)))
            Try(seed);
        var mutator = new Mutator(target, arguments.Seed);
        var began = Stopwatch.GetTimestamp();
        var told = 0;
        while (_inputs < arguments.Inputs && Stopwatch.GetElapsedTime(began).TotalSeconds < arguments.Seconds)
        {
            Try(mutator.Next(_corpus[mutator.Choose(_corpus.Count)], _corpus[mutator.Choose(_corpus.Count)]));
            if ((int)Stopwatch.GetElapsedTime(began).TotalSeconds / 10 <= told)
                continue;
            told++;
            Say(began);
        }

        Say(began);
        if (arguments.Corpus is not null)
            Keep();
        return _findings.Count;
    }

    private string Folder => Path.Combine(arguments.Corpus ?? "", target.Name);

    private IEnumerable<string> Kept() => arguments.Corpus is not null && Directory.Exists(Folder) ? Directory.GetFiles(Folder).Order(StringComparer.Ordinal) : [];

    private void Say(long began) =>
        Console.WriteLine(FormattableString.Invariant($"{target.Name}: {_inputs:N0} inputs in {Stopwatch.GetElapsedTime(began).TotalSeconds:0} s, {_map.Pairs} pairs of branches, {_corpus.Count} inputs kept, {_findings.Count} findings"));

    private void Try(ReadOnlySpan<byte> input)
    {
        if (input.Length > target.MaximumLength)
            input = input[..target.MaximumLength];
        _inputs++;
        lock (_lock)
        {
            input.CopyTo(_present);
            _presentLength = input.Length;
            _presentSince = Stopwatch.GetTimestamp();
        }

        _map.Begin();
        var began = Stopwatch.GetTimestamp();
        var allocated = GC.GetAllocatedBytesForCurrentThread();
        try
        {
            target.Run(input);
            allocated = GC.GetAllocatedBytesForCurrentThread() - allocated;
            var milliseconds = Stopwatch.GetElapsedTime(began).TotalMilliseconds;

            if (milliseconds > Slow || allocated > target.MostAllocated(input.Length))
                Measure(input);
        }
        catch (Exception e)
        {
            Found(input, Kind(e), e.ToString());
        }

        if (_map.Note())
            _corpus.Add(input.ToArray());
    }

    // Again, because other programs may have had the processor, and what is made once is made only then.
    private void Measure(ReadOnlySpan<byte> input)
    {
        var began = Stopwatch.GetTimestamp();
        var allocated = GC.GetAllocatedBytesForCurrentThread();
        target.Run(input);
        allocated = GC.GetAllocatedBytesForCurrentThread() - allocated;
        var milliseconds = Stopwatch.GetElapsedTime(began).TotalMilliseconds;
        if (milliseconds > Slow)
            Found(input, "slow", $"took {milliseconds:0} ms");
        if (allocated > target.MostAllocated(input.Length))
            Found(input, "memory", $"allocated {allocated} bytes, at most {target.MostAllocated(input.Length)} are due");
    }

    // One finding for each place where it is thrown.
    private static string Kind(Exception e) => e is FuzzFinding ? e.Message : $"{e.GetType().Name} {e.StackTrace?.Split('\n').FirstOrDefault(line => line.Contains("SawEdge", StringComparison.Ordinal))?.Trim()}";

    private void Found(ReadOnlySpan<byte> input, string kind, string text)
    {
        _findings[kind] = _findings.GetValueOrDefault(kind) + 1;
        if (_findings[kind] > 1)
            return;
        Directory.CreateDirectory(arguments.Findings);
        var file = Path.Combine(arguments.Findings, $"{target.Name}-{Convert.ToHexString(SHA256.HashData(input))[..12]}.bin");
        File.WriteAllBytes(file, input);
        Console.WriteLine($"{target.Name}: FOUND {text}\n  in {file}; again: dotnet run -c Release --project tests/SawEdge.Fuzz -- {target.Name} --input {file}");
    }

    private void EndIfItHangs()
    {
        lock (_lock)
        {
            if (_presentSince == 0 || Stopwatch.GetElapsedTime(_presentSince) < Hang)
                return;
            Found(_present.AsSpan(0, _presentLength), "hang", $"does not end within {Hang.TotalSeconds} s");
        }

        Environment.Exit(3);
    }

    /// <summary>Leaves the fewest and shortest inputs in the folder that reach all that was reached.</summary>
    private void Keep()
    {
        Directory.CreateDirectory(Folder);
        foreach (var file in Kept().ToList())
            File.Delete(file);
        var reached = new HashSet<int>();
        foreach (var input in _corpus.OrderBy(input => input.Length))
        {
            var taken = TakenBy(input);
            if (taken.IsSubsetOf(reached))
                continue;
            var needed = taken.Except(reached).ToHashSet();
            var shortened = Shorten(input, needed);
            reached.UnionWith(TakenBy(shortened));
            File.WriteAllBytes(Path.Combine(Folder, $"{Convert.ToHexString(SHA256.HashData(shortened))[..12]}.bin"), shortened);
        }
    }

    private byte[] Shorten(byte[] input, HashSet<int> needed)
    {
        for (var part = input.Length / 2; part > 0; part /= 2)
        {
            for (var at = 0; at + part <= input.Length;)
            {
                byte[] shorter = [.. input[..at], .. input[(at + part)..]];
                if (needed.IsSubsetOf(TakenBy(shorter)))
                    input = shorter;
                else
                    at += part;
            }
        }

        return input;
    }

    private HashSet<int> TakenBy(byte[] input)
    {
        _presentSince = Stopwatch.GetTimestamp();
        _map.Begin();
        try
        {
            target.Run(input);
        }
        catch (Exception e)
        {
            Found(input, Kind(e), e.ToString());
        }

        return _map.Taken();
    }
}
