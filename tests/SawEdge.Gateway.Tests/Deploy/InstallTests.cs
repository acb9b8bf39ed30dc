using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Deploy;

/// <summary>The service, the install script and the Debian package, with the distribution's own programs.</summary>
public sealed partial class InstallTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [PeerFact("systemd-analyze")]
    public async Task Service_IsUnderstood_AndIsHardlyExposed()
    {
        var unit = DeployFolder.File("systemd", "sawedge.service");

        // It answers 0 to keys that it does not know: whatever it prints is a fault, but that the program is not installed here.
        var (_, understood) = await Peer.RunAsync("systemd-analyze", ["verify", unit]);
        Assert.DoesNotContain(understood.Split('\n', StringSplitOptions.RemoveEmptyEntries), line => !line.Contains("/usr/lib/sawedge/sawedge is not executable", StringComparison.Ordinal) && line.Contains("sawedge", StringComparison.Ordinal));

        var (_, rated) = await Peer.RunAsync("systemd-analyze", ["security", "--offline=true", "--no-pager", unit]);
        var exposure = double.Parse(Exposure().Match(rated).Groups[1].ValueSpan, CultureInfo.InvariantCulture);
        Assert.InRange(exposure, 0, 1.5);
    }

    [Fact]
    public async Task Install_SaysWhatItDoes_DoesItOnce_GoesBack_AndLeavesWhatIsThePlants()
    {
        var (one, two, root) = (_folder.File("one's"), _folder.File("two"), _folder.File("the root"));
        DeployFolder.Publish(one, "1.0.0+a");
        DeployFolder.Publish(two, "2.0.0+b");

        var (said, plan) = await InstallAsync("install", one, "--dry-run");
        Assert.Equal(0, said);
        Assert.Contains("put 1.0.0+a in service", plan, StringComparison.Ordinal);
        Assert.False(Directory.Exists(root));
        Assert.Equal((1, true), await RefusedAsync("there is nobody to ask; say --yes to do it", "install", one));

        Assert.Equal(0, (await InstallAsync("install", one, "--yes")).Exit);
        Assert.Equal("1.0.0+a", Current());
        Assert.Contains("ExecStart=/opt/sawedge/current/sawedge run", File.ReadAllText(Path.Combine(root, "etc/systemd/system/sawedge.service")), StringComparison.Ordinal);
        Assert.StartsWith("Nothing to do", (await InstallAsync("install", one)).Output, StringComparison.Ordinal);

        // A history is backed up before an upgrade, by the program that made it.
        await using (var history = new RunningHistory(Path.Combine(root, "var/lib/sawedge")))
            await history.AppendAsync(Cycles.Make("north", 1));
        var (upgraded, output) = await InstallAsync("install", two, "--yes");
        Assert.True(upgraded == 0, output);
        Assert.Equal("2.0.0+b", Current());
        Assert.True(new FileInfo(Path.Combine(root, "var/lib/sawedge/before-2.0.0+b.db")).Length > 0);

        Assert.Equal(0, (await InstallAsync("rollback", "--yes")).Exit);
        Assert.Equal("1.0.0+a", Current());
        Assert.Equal(0, (await InstallAsync("rollback", "--yes")).Exit);
        Assert.Equal("2.0.0+b", Current());

        Assert.Equal(0, (await InstallAsync("uninstall", "--yes")).Exit);
        Assert.False(Directory.Exists(Path.Combine(root, "opt/sawedge")));
        Assert.True(File.Exists(Path.Combine(root, "var/lib/sawedge/history.db")));
        Assert.StartsWith("Nothing to do", (await InstallAsync("uninstall")).Output, StringComparison.Ordinal);

        string? Current() => new FileInfo(Path.Combine(root, "opt/sawedge/current")).LinkTarget;
        Task<(int Exit, string Output)> InstallAsync(params string[] arguments) => Peer.RunAsync("bash", [DeployFolder.File("install.sh"), .. arguments, "--root", root]);
        async Task<(int Exit, bool Says)> RefusedAsync(string words, params string[] arguments) => await InstallAsync(arguments) is var (exit, text) ? (exit, text.Contains(words, StringComparison.Ordinal)) : default;
    }

    [Theory]
    [InlineData("no program 'sawedge' in '/nowhere': that is no published program", "install", "/nowhere")]
    [InlineData("which program? install.sh install FOLDER, with the folder of a published program", "install")]
    [InlineData("nothing is installed under /opt/sawedge", "rollback")]
    [InlineData("unknown command 'remove'; it is one of install, rollback, uninstall, status", "remove")]
    [InlineData("unknown option '--force'; install.sh --help tells what there is", "install", "--force")]
    public async Task Install_WrongInput_IsOneLine(string expected, params string[] arguments)
    {
        var (exit, output) = await Peer.RunAsync("bash", [DeployFolder.File("install.sh"), "--root", _folder.File("root"), .. arguments]);
        Assert.Equal(1, exit);
        Assert.EndsWith(expected, output.Trim(), StringComparison.Ordinal);
        Assert.Single(output.Trim().Split('\n'));
    }

    [PeerFact("dpkg-deb")]
    public async Task DebianPackage_HoldsProgramServiceAndExamples_WithTheRightsThatTheyNeed_AndIsTheSameEachTime()
    {
        DeployFolder.Publish(_folder.File("published"));
        Directory.CreateDirectory(_folder.File("a"));
        Directory.CreateDirectory(_folder.File("b"));
        var first = await BuildAsync("a");
        var second = await BuildAsync("b");
        Assert.Equal(await File.ReadAllBytesAsync(first), await File.ReadAllBytesAsync(second));

        var (_, content) = await Peer.RunAsync("dpkg-deb", ["-c", first]);
        foreach (var line in (string[])
            [
                @"-rwxr-xr-x root/root .* \./usr/lib/sawedge/sawedge$", @"-rw-r--r-- root/root .* \./usr/lib/sawedge/libe_sqlite3\.so$", @"-rw-r--r-- root/root .* \./lib/systemd/system/sawedge\.service$",
                @"lrwxrwxrwx root/root .* \./usr/bin/sawedge -> \.\./lib/sawedge/sawedge$", @" \./usr/share/doc/sawedge/examples/modbus-saw\.json$", @" \./usr/lib/sysusers\.d/sawedge\.conf$", @"-rw-r--r-- root/root .* \./usr/share/doc/sawedge/sawedge\.cdx\.json$",
            ])
        {
            Assert.Matches(new Regex(line, RegexOptions.Multiline), content);
        }

        var (_, fields) = await Peer.RunAsync("dpkg-deb", ["-f", first, "Package", "Architecture", "Version"]);
        Assert.Equal(["Package: sawedge", "Architecture: amd64", "Version: 1.2.3"], fields.Trim().Split('\n').Select(line => line.Trim()));
        var (exit, output) = await Peer.RunAsync("bash", [DeployFolder.File("packages", "build-deb.sh"), "amd64", _folder.File("a"), _folder.File("b")]);
        Assert.Equal((1, $"no program 'sawedge' in {_folder.File("a")}: publish it first with deploy/packages/publish.sh"), (exit, output.Trim()));

        async Task<string> BuildAsync(string folder)
        {
            var (built, said) = await Peer.RunAsync("bash", [DeployFolder.File("packages", "build-deb.sh"), "amd64", _folder.File("published"), _folder.File(folder), "1.2.3"]);
            Assert.True(built == 0, said);
            return said.Trim();
        }
    }

    [GeneratedRegex(@"Overall exposure level for sawedge\.service: ([0-9.]+)")]
    private static partial Regex Exposure();
}
