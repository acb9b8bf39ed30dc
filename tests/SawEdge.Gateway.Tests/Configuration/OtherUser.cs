using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>A test that runs the program as a user without rights, or in mounts of its own, which only root can; elsewhere it is skipped with the reason.</summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class OtherUserFactAttribute : FactAttribute
{
    public OtherUserFactAttribute()
    {
        if (OtherUser.Trouble.Value is { } trouble)
            Skip = trouble;
    }
}

/// <summary>Runs the built program as a user without rights.</summary>
internal static class OtherUser
{
    // nobody and nogroup of Debian.
    private static readonly string[] As = ["--reuid", "65534", "--regid", "65534", "--clear-groups"];

    /// <summary>Why that cannot be done here; null: it can.</summary>
    public static readonly Lazy<string?> Trouble = new(Try);

    /// <summary>What starts the program.</summary>
    public static string[] Program { get; } = [Dotnet, Path.Combine(AppContext.BaseDirectory, "sawedge.dll")];

    private static string Dotnet => Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet" ? Environment.ProcessPath! : Peer.Find("dotnet") ?? "dotnet";

    /// <summary>Runs the program as that user to its end.</summary>
    public static Task<(int ExitCode, string Output)> SawEdgeAsync(params string[] arguments) => RunAsync("setpriv", [.. As, .. Program, .. arguments]);

    /// <summary>Runs a program to its end.</summary>
    public static async Task<(int ExitCode, string Output)> RunAsync(string program, string[] arguments)
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromMinutes(3));
        return await Peer.RunAsync(program, arguments, cancellation: patience.Token);
    }

    private static string? Try()
    {
        if (!OperatingSystem.IsLinux() || !Environment.IsPrivilegedProcess || Peer.Find("setpriv") is null || Peer.Find("unshare") is null)
            return "needs to be root on Linux, with setpriv and unshare (util-linux)";
        var (exitCode, _) = RunAsync("setpriv", [.. As, "test", "-r", Program[1]]).GetAwaiter().GetResult();
        return exitCode == 0 ? null : $"another user may not read {Program[1]}";
    }
}
