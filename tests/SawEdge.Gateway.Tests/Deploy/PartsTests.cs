using System.Security.Cryptography;
using System.Text.Json;
using Microsoft.Data.Sqlite;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Deploy;

/// <summary>The list of the parts that the gateway is made of (CycloneDX), as each build puts it beside the program.</summary>
public sealed class PartsTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task List_HoldsEveryLockedPackage_AndIsTheSameEachTime()
    {
        var first = await MakeAsync("first.json");
        Assert.Equal(await File.ReadAllBytesAsync(first), await File.ReadAllBytesAsync(await MakeAsync("second.json")));

        using var list = JsonDocument.Parse(await File.ReadAllTextAsync(first));
        Assert.Equal("CycloneDX", list.RootElement.GetProperty("bomFormat").GetString());
        var parts = list.RootElement.GetProperty("components").EnumerateArray().ToList();
        var named = parts.Select(part => part.GetProperty("purl").GetString()!).ToHashSet(StringComparer.OrdinalIgnoreCase);
        Assert.Equal(parts.Count, named.Count);
        Assert.Contains(named, part => part.StartsWith("pkg:npm/echarts@", StringComparison.Ordinal));
        Assert.All(parts, part => Assert.True(part.TryGetProperty("hashes", out _) || part.GetProperty("purl").GetString()!.StartsWith("pkg:npm/", StringComparison.Ordinal) || part.GetProperty("type").GetString() == "framework"));

        var locked = new[] { "Gateway", "Core", "Modbus", "Simulator" }.SelectMany(Locked).Distinct(StringComparer.OrdinalIgnoreCase).ToList();
        Assert.True(locked.Count > 20);
        Assert.All(locked, package => Assert.Contains($"pkg:nuget/{package}", named));
    }

    // SHA-256 of dist/echarts.min.js in the npm package of the version that third-party.txt names: what goes out is what was published.
    [Fact]
    public void ChartsOfThePage_AreWhatThirdPartyNames()
    {
        var page = Path.Combine(SchemaTests.Root, "src", "SawEdge.Gateway", "Page");

        Assert.Contains("Apache ECharts 6.1.0 (page/echarts.js)", File.ReadAllText(Path.Combine(page, "third-party.txt")), StringComparison.Ordinal);
        Assert.Equal("b66b25aeb4df84e33199dc21694014d336d222cbd9deb0e5a7c14bd6aa0d0fd0", Convert.ToHexStringLower(SHA256.HashData(File.ReadAllBytes(Path.Combine(page, "echarts.js")))));
    }

    // CVE-2025-70873 concerns SQLite before 3.51.2, CVE-2025-6965 before 3.50.2 (https://www.sqlite.org/cves.html).
    [Fact]
    public void SqliteThatGoesOut_IsNoneWithPublishedVulnerabilities()
    {
        using var connection = new SqliteConnection("Data Source=:memory:");
        Assert.True(Version.Parse(connection.ServerVersion) >= new Version(3, 51, 2), connection.ServerVersion);
    }

    private static IEnumerable<string> Locked(string project)
    {
        using var file = JsonDocument.Parse(File.ReadAllText(Path.Combine(SchemaTests.Root, "src", $"SawEdge.{project}", "packages.lock.json")));
        foreach (var framework in file.RootElement.GetProperty("dependencies").EnumerateObject())
        {
            foreach (var package in framework.Value.EnumerateObject().Where(package => package.Value.GetProperty("type").GetString() != "Project"))
                yield return $"{package.Name}@{package.Value.GetProperty("resolved").GetString()}";
        }
    }

    private async Task<string> MakeAsync(string name)
    {
        var (exit, output) = await Peer.RunAsync("bash", [DeployFolder.File("packages", "sbom.sh"), _folder.File(name)]);
        Assert.True(exit == 0, output);
        return _folder.File(name);
    }
}
