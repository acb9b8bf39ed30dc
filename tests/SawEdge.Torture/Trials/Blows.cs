using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Plant;

namespace SawEdge.Torture.Trials;

/// <summary>What a kill is aimed at.</summary>
internal enum Aim
{
    /// <summary>Any moment of a gateway at work.</summary>
    Anytime,

    /// <summary>The start itself, from the first instruction on.</summary>
    Start,

    /// <summary>A blade is in the stock.</summary>
    InCut,

    /// <summary>A cut has just ended: its transaction.</summary>
    Commit,

    /// <summary>The destination has been sent something, or has taken it and the gateway does not know.</summary>
    Delivery,

    /// <summary>Samples past their time are being deleted, and pages given back.</summary>
    Clearing,

    /// <summary>The budget is reached and room is being made.</summary>
    Budget,

    /// <summary>A backup is being written; the gateway or the backup is killed.</summary>
    Backup,

    /// <summary>The file is being written anew, or given back beside the gateway.</summary>
    Compaction,
}

/// <summary>Waits for the moment of a kill, and kills.</summary>
internal sealed class Blows(TrialRun run, SawBay bay, DeliveryTap tap, GatewayFolder folder)
{
    private static readonly Aim[] Round =
    [
        Aim.InCut, Aim.Commit, Aim.Start, Aim.Delivery, Aim.Clearing, Aim.Backup, Aim.InCut, Aim.Commit, Aim.Start, Aim.Delivery,
        Aim.Anytime, Aim.Anytime, Aim.InCut, Aim.Commit, Aim.Start, Aim.Anytime, Aim.Anytime, Aim.InCut, Aim.Compaction, Aim.Budget,
    ];

    // Holding registers, discrete inputs, coils.
    private const int RequestsAFrame = 3;

    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(15);

    private readonly Queue<Aim> _next = [];
    private readonly string _backup = folder.File("backup.db");
    private Peer? _command;

    /// <summary>What the next kill is aimed at: a round is dealt through in random order; the short form begins with the usual ones.</summary>
    public Aim Next()
    {
        if (_next.Count == 0)
        {
            var round = run.IsShort ? Round[..11] : [.. Round];
            run.Random.Shuffle(round);
            foreach (var aim in round)
                _next.Enqueue(aim);
        }

        return _next.Dequeue();
    }

    /// <summary>Makes the moment possible, while no gateway runs.</summary>
    public async Task PrepareAsync(Aim aim)
    {
        if (aim is Aim.Clearing)
            OldSamples.Add(folder.History.Path, 30_000, OldSamples.PastKeep);
        else if (aim is Aim.Budget)
            OldSamples.Fill(folder.History.Path, KillTrial.BudgetBytes);
        else if (aim is Aim.Compaction && run.Random.Next(2) == 0)
            await KillInCommandAsync("compact");
    }

    /// <summary>Waits for the moment, and kills.</summary>
    public async Task DealAsync(Aim aim, GatewayProcess gateway, CancellationToken cancellation)
    {
        if (aim is Aim.Start)
        {
            await Task.Delay(run.Random.Next(0, 1600), cancellation);
            await gateway.KillAsync();
            return;
        }

        var asked = bay.Requests;
        await gateway.UntilAsync(() => bay.Requests > asked + (RequestsAFrame * bay.Saws.Count), "the gateway polls");
        switch (aim)
        {
            case Aim.Anytime:
                await FramesAsync(gateway, run.Random.Next(0, 12));
                break;
            case Aim.InCut:
                await WaitAsync(gateway, () => bay.Saws.Any(saw => saw.IsInCut));
                await FramesAsync(gateway, run.Random.Next(0, 6));
                break;
            case Aim.Commit:
                var steps = Steps();
                await WaitAsync(gateway, () => Steps() > steps);
                await Task.Delay(run.Random.Next(0, 80), cancellation);
                break;
            case Aim.Delivery:
                await InDeliveryAsync(gateway, cancellation);
                break;
            case Aim.Clearing or Aim.Budget:
                var oldest = OldSamples.Oldest(folder.History.Path);
                await WaitAsync(gateway, () => OldSamples.Oldest(folder.History.Path) != oldest);
                await FramesAsync(gateway, run.Random.Next(0, 4));
                break;
            case Aim.Backup:
                _command = GatewayProcess.Start("history", "backup", _backup, "--replace", "--data", Path.GetDirectoryName(folder.History.Path)!);
                await WaitAsync(gateway, () => File.Exists(_backup + ".part") || _command.HasExited);
                if (run.Random.Next(2) == 0)
                    await _command.KillAsync();
                break;
            case Aim.Compaction:
                _command = GatewayProcess.Start("history", "compact", "--data", Path.GetDirectoryName(folder.History.Path)!);
                await Task.Delay(run.Random.Next(300, 1500), cancellation);
                break;
        }

        await gateway.KillAsync();
    }

    /// <summary>Ends what ran beside the gateway, and looks at what came of it.</summary>
    public async Task AfterAsync()
    {
        tap.KeepsAnswers = false;
        if (_command is not null)
        {
            await _command.ExitsAsync();
            await _command.DisposeAsync();
            _command = null;
        }

        if (File.Exists(_backup))
        {
            var (_, output) = await Peer.RunAsync(HistoryFile.Program, ["-readonly", _backup, "PRAGMA integrity_check;"]);
            run.Check(output == "ok", $"the backup is not whole: {output}");
        }
    }

    /// <summary>An aim in words.</summary>
    public static string Words(Aim aim) => aim switch
    {
        Aim.InCut => "in a cut",
        Aim.Commit => "in a transaction",
        Aim.Delivery => "in a delivery",
        Aim.Clearing => "in clearing",
        Aim.Budget => "in making room",
        Aim.Backup => "in a backup",
        Aim.Compaction => "in compaction",
        Aim.Start => "in the start",
        _ => "anywhere",
    };

    private async Task InDeliveryAsync(GatewayProcess gateway, CancellationToken cancellation)
    {
        tap.KeepsAnswers = run.Random.Next(2) == 0;
        var (asked, kept) = (tap.Asked, tap.Kept);
        await WaitAsync(gateway, () => tap.KeepsAnswers ? tap.Kept > kept : tap.Asked > asked);
        if (!tap.KeepsAnswers)
            await Task.Delay(run.Random.Next(0, 8), cancellation);
    }

    // The command alone has the folder.
    private async Task KillInCommandAsync(string verb)
    {
        await using var command = GatewayProcess.Start("history", verb, "--data", Path.GetDirectoryName(folder.History.Path)!);
        await Task.Delay(run.Random.Next(300, 1200));
        await command.KillAsync();
    }

    private long Steps() => bay.Saws.Sum(saw => saw.Observed.Steps);

    // A moment that does not come in time is any moment.
    private static async Task WaitAsync(GatewayProcess gateway, Func<bool> moment)
    {
        using var pace = new PeriodicTimer(TimeSpan.FromMilliseconds(2));
        var began = TimeProvider.System.GetTimestamp();
        while (!gateway.HasExited && !moment() && TimeProvider.System.GetElapsedTime(began) < Patience)
            await pace.WaitForNextTickAsync();
    }

    // Counted in frames and not in time: a slow machine must not let the gateway live shorter.
    private Task FramesAsync(GatewayProcess gateway, int frames)
    {
        var until = bay.Requests + (frames * RequestsAFrame * bay.Saws.Count);
        return WaitAsync(gateway, () => bay.Requests >= until);
    }
}
