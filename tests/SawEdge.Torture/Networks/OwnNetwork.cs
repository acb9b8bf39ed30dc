using System.Globalization;
using System.Net;
using SawEdge.TestSupport;

namespace SawEdge.Torture.Networks;

/// <summary>A network namespace for a gateway, with one cable to the rest of the machine that can be pulled and made slow.</summary>
internal sealed class OwnNetwork : IAsyncDisposable
{
    private readonly string _name;
    private readonly string _outside;

    private OwnNetwork(string name, IPAddress outside)
    {
        (_name, _outside) = (name, name + "o");
        Outside = outside;
    }

    /// <summary>The address of the rest of the machine, as seen from inside.</summary>
    public IPAddress Outside { get; }

    /// <summary>The command that runs another one inside.</summary>
    public string[] Through => ["ip", "netns", "exec", _name];

    /// <summary>Makes one; where this machine does not let us, says so.</summary>
    /// <returns>Null where it cannot be had.</returns>
    public static async Task<OwnNetwork?> TryMakeAsync(TrialRun run)
    {
        if (!OperatingSystem.IsLinux() || Peer.Find("ip") is null)
        {
            run.Say($"NOT DONE: a cable that is pulled, which needs network namespaces (iproute2)");
            return null;
        }

        // Names of links have 15 characters at most; the process keeps trials apart that run at once.
        var number = Environment.ProcessId % 16_000;
        var outside = new IPAddress([10, 213, (byte)(number / 64), (byte)((number % 64 * 4) + 1)]);
        var inside = new IPAddress([10, 213, (byte)(number / 64), (byte)((number % 64 * 4) + 2)]);
        var network = new OwnNetwork(string.Create(CultureInfo.InvariantCulture, $"sawt{number}"), outside);
        var trouble = await Peer.RunAsync("ip", ["netns", "add", network._name]) is { ExitCode: not 0 } none ? none.Output : null;
        trouble ??= await network.TellAsync("link", "add", network._outside, "type", "veth", "peer", "name", "cable", "netns", network._name);
        trouble ??= await network.TellAsync("addr", "add", $"{outside}/30", "dev", network._outside);
        trouble ??= await network.TellAsync("link", "set", network._outside, "up");
        trouble ??= await network.TellAsync("-n", network._name, "addr", "add", $"{inside}/30", "dev", "cable");
        trouble ??= await network.TellAsync("-n", network._name, "link", "set", "lo", "up");
        trouble ??= await network.TellAsync("-n", network._name, "link", "set", "cable", "up");
        if (trouble is null)
            return network;
        await network.DisposeAsync();
        run.Say($"NOT DONE: a cable that is pulled, which needs the right to make network namespaces ({trouble.Trim()})");
        return null;
    }

    /// <summary>Pulls the cable, or puts it back.</summary>
    public async Task PullAsync(bool pulled)
    {
        if (await TellAsync("link", "set", _outside, pulled ? "down" : "up") is { } trouble)
            throw new InvalidOperationException(trouble);
    }

    /// <summary>Lets little pass outward and drops what queues up, or everything again; where the kernel has no such queue, it cannot.</summary>
    /// <returns>Whether it could.</returns>
    public async Task<bool> ThrottleAsync(bool throttled)
    {
        string[] queue = throttled ? ["qdisc", "replace", "dev", _outside, "root", "tbf", "rate", "24kbit", "burst", "3000", "limit", "6000"] : ["qdisc", "del", "dev", _outside, "root"];
        return Peer.Find("tc") is not null && (await Peer.RunAsync("tc", queue)).ExitCode == 0;
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await TellAsync("link", "del", _outside);
        await TellAsync("netns", "del", _name);
    }

    private async Task<string?> TellAsync(params string[] arguments)
    {
        var (exit, output) = await Peer.RunAsync("ip", arguments);
        return exit == 0 ? null : $"ip {string.Join(' ', arguments)}: {output}";
    }
}
