using System.Text.RegularExpressions;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Deploy;

/// <summary>What of the compose file can be held without its images: the broker's configuration in a real broker, secrets, pins.</summary>
public sealed class ComposeTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Images_ArePinned_AndNothingSecretStandsInTheFile()
    {
        var lines = File.ReadAllLines(DeployFolder.File("compose", "compose.yaml")).Select(line => line.Trim()).ToList();
        var images = lines.Where(line => line.StartsWith("image: ", StringComparison.Ordinal)).ToList();
        Assert.Equal(4, images.Count);
        Assert.All(images, image => Assert.Matches(@"^image: [a-z/-]+:[0-9]+\.[0-9]+\.[0-9]+$", image));
        Assert.All(lines.Where(line => Regex.IsMatch(line, "password|token", RegexOptions.IgnoreCase) && !line.StartsWith('#')), line => Assert.Matches(@"/run/secrets/|\./secrets/|^secrets: \[", line));
    }

    [PeerFact("mosquitto", "mosquitto_passwd", "mosquitto_sub", "openssl")]
    public async Task Broker_AsksForTlsAndAPassword_AndLetsEachDoNoMoreThanItsPart()
    {
        foreach (var name in (string[])["make-secrets.sh", "mosquitto.conf", "mosquitto.acl"])
            File.Copy(DeployFolder.File("compose", name), _folder.File(name));
        var (exit, output) = await Peer.RunAsync("bash", [_folder.File("make-secrets.sh"), "hall3.riverbend.example"]);
        Assert.True(exit == 0, output);
        var before = await File.ReadAllTextAsync(Secret("broker-password"));
        await Peer.RunAsync("bash", [_folder.File("make-secrets.sh")]);
        Assert.Equal(before, await File.ReadAllTextAsync(Secret("broker-password")));

        Directory.CreateDirectory(_folder.File("conf.d"));
        File.Copy(DeployFolder.File("mosquitto-memory.conf"), _folder.File("conf.d/memory.conf"));
        var port = Peer.FreePort();
        var configuration = (await File.ReadAllTextAsync(_folder.File("mosquitto.conf")))
            .Replace("listener 8883", $"listener {port} 127.0.0.1", StringComparison.Ordinal)
            .Replace("/run/secrets/broker-certificate", Secret("broker.pem"), StringComparison.Ordinal)
            .Replace("/run/secrets/broker-key", Secret("broker.key"), StringComparison.Ordinal)
            .Replace("/run/secrets/", $"{Secret(".")}/", StringComparison.Ordinal)
            .Replace("/mosquitto/config/", _folder.Path + "/", StringComparison.Ordinal)
            .Replace("/mosquitto/data/", _folder.Path + "/", StringComparison.Ordinal);
        File.WriteAllText(_folder.File("broker.conf"), "user root\n" + configuration);
        await using var broker = Peer.Start("mosquitto", ["-c", _folder.File("broker.conf")]);
        await broker.ListensAsync(port);

        // The gateway hears a saw; what it writes to a saw itself does not arrive, nor does what a saw writes elsewhere.
        await using var gateway = Peer.Start("mosquitto_sub", [.. As("sawedge"), "-t", "hall-3/#", "-t", "sawedge/#", "-v"]);
        await Until.TrueAsync(
            async () =>
            {
                await PublishAsync("saws", "hall-3/saw-2/frame", "one");
                return gateway.Output.Contains("hall-3/saw-2/frame one", StringComparison.Ordinal);
            },
            "the gateway hears the saw");
        await PublishAsync("sawedge", "hall-3/saw-2/command", "start");
        await PublishAsync("saws", "sawedge/alarms/north", "forged");
        await PublishAsync("sawedge", "sawedge/alarms/north", "true");
        await gateway.PrintsAsync("sawedge/alarms/north true");
        Assert.DoesNotContain("start", gateway.Output, StringComparison.Ordinal);
        Assert.DoesNotContain("forged", gateway.Output, StringComparison.Ordinal);

        var (wrong, _) = await Peer.RunAsync("mosquitto_pub", [.. As("saws")[..^1], "wrong", "-t", "hall-3/saw-2/frame", "-m", "x"]);
        var (open, _) = await Peer.RunAsync("mosquitto_pub", ["-h", "127.0.0.1", "-p", $"{port}", "-t", "hall-3/saw-2/frame", "-m", "x"]);
        Assert.NotEqual(0, wrong);
        Assert.NotEqual(0, open);

        string Secret(string name) => Path.Combine(_folder.Path, "secrets", name);
        string[] As(string user) => ["-h", "127.0.0.1", "-p", $"{port}", "--cafile", Secret("plant-ca.pem"), "-u", user, "-P", File.ReadAllText(Secret(user == "saws" ? "saws-password" : "broker-password"))];
        async Task PublishAsync(string user, string topic, string text) => Assert.Equal(0, (await Peer.RunAsync("mosquitto_pub", [.. As(user), "-t", topic, "-m", text])).ExitCode);
    }
}
