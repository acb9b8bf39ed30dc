using SawEdge.Gateway.Commands;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>Wrong rights of files and folders, each with the program as a process of its own and another user: one clear line, and the exit code that is documented.</summary>
public sealed class FileRightsTests : IDisposable
{
    private const UnixFileMode Mine = UnixFileMode.UserRead | UnixFileMode.UserWrite;
    private const UnixFileMode Everybodys = Mine | UnixFileMode.GroupRead | UnixFileMode.OtherRead;
    private const UnixFileMode MyFolder = Mine | UnixFileMode.UserExecute;
    private const UnixFileMode OpenFolder = MyFolder | UnixFileMode.GroupRead | UnixFileMode.GroupExecute | UnixFileMode.OtherRead | UnixFileMode.OtherExecute;
    private const string Advice = "cannot be read by the user nobody; give the gateway's user the right (chgrp sawedge and chmod 640; its folder needs chmod g+x), or run this as that user (sudo -u sawedge)";

    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [OtherUserFact]
    public async Task TheConfiguration_ThatMayNotBeRead_IsSaidAndEndsWith1()
    {
        Prepare(Sample.With("", null), Mine);
        await SaysAsync(ExitCodes.WrongInput, $"{Configuration}: error: {Configuration} {Advice}", "run", Configuration);

        // Nor is it said not to be there where its folder may not be looked into.
        Mode(_folder.Path, MyFolder);
        await SaysAsync(ExitCodes.Failed, $"{Configuration}: error: {Configuration} {Advice}", "check", Configuration);
    }

    [OtherUserFact]
    public async Task ASecret_ThatMayNotBeRead_IsSaidAndEndsWith1()
    {
        Prepare(Sample.With(("influx[0].token", null), ("influx[0].tokenFile", "\"token\"")), Everybodys);
        File.WriteAllText(_folder.File("token"), "zK7-very-Secret");
        Mode(_folder.File("token"), Mine);
        await SaysAsync(ExitCodes.WrongInput, $"error: influx[0].tokenFile: {_folder.File("token")} {Advice}", "run", Configuration);
    }

    [OtherUserFact]
    public async Task ADataFolder_ThatMayNotBeWritten_IsSaidByCheckWith1AndByRunWith2()
    {
        Prepare(Sample.With("http", "{ \"enabled\": false }"), Everybodys);
        await SaysAsync(ExitCodes.WrongInput, $"error: dataFolder: {_folder.File("data")} cannot be written by this user (", "check", Configuration);
        await SaysAsync(ExitCodes.Failed, $"[3508] The data folder '{_folder.File("data")}' cannot be written: ", "run", Configuration);
    }

    [Fact]
    public void ASecretFile_ThatEverybodyMayRead_IsWarnedOf()
    {
        if (OperatingSystem.IsWindows())
            return;
        File.WriteAllText(_folder.File("token"), "zK7-very-Secret");
        Mode(_folder.File("token"), Everybodys);
        var text = Sample.With(("influx[0].token", null), ("influx[0].tokenFile", "\"token\""));
        Assert.Equal([$"warning influx[0].tokenFile: {_folder.File("token")} may be read by everybody on this machine; take that right away (chmod o-r)"], Sample.Load(_folder, text).Lines());

        Mode(_folder.File("token"), Mine);
        Assert.Empty(Sample.Load(_folder, text).Findings);

        // What a service manager hands over is its own to guard.
        Mode(_folder.File("token"), Everybodys);
        Assert.Empty(Sample.Load(_folder, Sample.With(("influx[0].token", null), ("influx[0].tokenFile", "\"credential:token\"")), new Dictionary<string, string> { ["CREDENTIALS_DIRECTORY"] = _folder.Path }).Findings);
    }

    private string Configuration => _folder.File("sawedge.json");

    private static async Task SaysAsync(int exitCode, string line, params string[] arguments)
    {
        var (code, output) = await OtherUser.SawEdgeAsync(arguments);
        Assert.True(code == exitCode, $"ended with {code}:\n{output}");
        Assert.Single(output.Split('\n'), said => said.Contains(line, StringComparison.Ordinal));
        Assert.DoesNotContain("   at ", output, StringComparison.Ordinal);
    }

    private static void Mode(string path, UnixFileMode mode)
    {
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(path, mode);
    }

    private void Prepare(string text, UnixFileMode mode)
    {
        File.WriteAllText(Configuration, text);
        Mode(Configuration, mode);
        Mode(_folder.Path, OpenFolder);
    }
}
