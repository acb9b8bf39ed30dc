using System.Globalization;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

public sealed class DataDiskTests : IDisposable
{
    // The first line is the example of proc_pid_mountinfo(5); the others were read from memory of what Linux writes.
    private const string Mounts = """
        36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue
        21 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
        22 21 0:20 / /srv rw,relatime shared:2 master:3 propagate_from:4 - nfs4 files:/export rw,vers=4.2
        23 22 8:2 / /srv/local rw,relatime - xfs /dev/sdb1 rw
        24 21 0:21 / /mnt/the\040share rw,relatime - cifs //files/saws rw
        25 21 0:22 / /home/u/far rw,nosuid - fuse.sshfs u@far: rw
        26 21 0:23 / /twice rw - ext4 /dev/sdc1 rw
        27 26 0:24 / /twice rw - nfs files:/other rw
        28 21
        """;

    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("/var/lib/sawedge", "ext4")]
    [InlineData("/", "ext4")]
    [InlineData("/mnt2/data", "ext3")]
    [InlineData("/srv", "nfs4")]
    [InlineData("/srv/data", "nfs4")]
    [InlineData("/srv/local/data", "xfs")]
    [InlineData("/srvother", "ext4")]
    [InlineData("/mnt/the share/data", "cifs")]
    [InlineData("/home/u/far/data", "fuse.sshfs")]
    [InlineData("/twice/data", "nfs")]
    public void FileSystemOf_APath_IsThatOfTheLastMountThatHoldsIt(string path, string type)
    {
        if (!OperatingSystem.IsWindows())
            Assert.Equal(type, DataDisk.FileSystemOf(path, Mounts));
    }

    [PeerFact("/proc/self/mountinfo")]
    public void FileSystemOf_ALink_IsThatOfWhereItLeads()
    {
        var mounts = File.ReadAllText("/proc/self/mountinfo");
        File.CreateSymbolicLink(_folder.File("link"), "/proc/self");
        Assert.Equal("proc", DataDisk.FileSystemOf("/proc/1", mounts));
        Assert.Equal("proc", DataDisk.FileSystemOf(_folder.File("link") + "/data", mounts));
        Assert.NotEqual("proc", DataDisk.FileSystemOf(_folder.File("data"), mounts));
    }

    /// <summary>No server for shares can run here: the program reads a list of mounts in which its data folder lies on one, put over the kernel's own.</summary>
    [OtherUserFact]
    public async Task AShare_IsRefusedByCheckAndAtTheStart()
    {
        Write(Sample.With(("dataFolder", $"\"{_folder.File("data")}\""), ("http", "{ \"enabled\": false }")));
        await File.WriteAllTextAsync(_folder.File("mounts"), $"21 1 8:1 / / rw - ext4 /dev/sda1 rw\n22 21 0:20 / {_folder.Path} rw,relatime - nfs4 files:/export rw\n");
        string[] without = ["-m", "sh", "-c", $"mount --bind {_folder.File("mounts")} /proc/$$/mountinfo && exec \"$@\"", "sh"];
        var expected = $"{_folder.File("data")} lies on a network share (nfs4), where a history does not survive a power cut and may be damaged; name a folder on a disk of this machine, and copy backups to the share ('sawedge history backup')";

        var (code, output) = await OtherUser.RunAsync("unshare", [.. without, .. OtherUser.Program, "check", Configuration]);
        Assert.Equal((ExitCodes.WrongInput, $"{Configuration}: error: dataFolder: {expected}"), (code, output.Split('\n')[0]));

        (code, output) = await OtherUser.RunAsync("unshare", [.. without, .. OtherUser.Program, "run", Configuration]);
        Assert.Equal(ExitCodes.Failed, code);
        Assert.Contains($"The data folder cannot be used: {expected}.", output, StringComparison.Ordinal);
        Assert.False(Directory.Exists(_folder.File("data")));
    }

    [TmpfsFact]
    public async Task ADiskThatIsSmallerThanTheBudget_IsWarnedOfByCheckAndAtTheStart()
    {
        using var disk = TmpfsFactAttribute.Mount(64);
        var data = Path.Combine(disk.Path, "data");
        Assert.StartsWith($"the disk of {data} has 0.1 GB free, less than history.budget, 2.0 GB: it may be full before room is made; ", DataDisk.RoomTrouble(data, 2_000_000_000, "history.db"), StringComparison.Ordinal);
        Assert.Null(DataDisk.RoomTrouble(data, 50_000_000, "history.db"));

        // What the history takes already counts as its own.
        Directory.CreateDirectory(data);
        await File.WriteAllBytesAsync(Path.Combine(data, "history.db"), new byte[40_000_000]);
        Assert.Null(DataDisk.RoomTrouble(data, 50_000_000, "history.db"));
        File.Delete(Path.Combine(data, "history.db"));

        Write(Sample.With(("dataFolder", $"\"{data}\""), ("history", "{ \"budget\": \"2 GB\" }"), ("http", "{ \"enabled\": false }")));
        var output = new StringWriter(CultureInfo.InvariantCulture);
        Assert.Equal(ExitCodes.Done, CheckCommand.Run(Configuration, Sample.NoEnvironment, strict: false, output));
        Assert.StartsWith($"{Configuration}: warning: dataFolder: the disk of {data} has 0.1 GB free, ", output.ToString(), StringComparison.Ordinal);

        await using var gateway = Peer.Start(OtherUser.Program[0], [.. OtherUser.Program[1..], "run", Configuration]);
        await gateway.PrintsAsync($"[3542] the disk of {data} has 0.1 GB free, less than history.budget, 2.0 GB");
        await gateway.SignalAsync("TERM");
        Assert.Equal(ExitCodes.Done, await gateway.ExitsAsync());
    }

    private string Configuration => _folder.File("sawedge.json");

    private void Write(string text)
    {
        File.WriteAllText(Configuration, text);
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(Configuration, UnixFileMode.UserRead | UnixFileMode.UserWrite);
    }
}
