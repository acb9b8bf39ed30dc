using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

public sealed class WatchedConfigurationTests : IDisposable
{
    private readonly TempFolder _folder = new();

    private string File => _folder.File("sawedge.json");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void LookAgain_NothingChanged_ReadsNothing()
    {
        var watched = Watch();
        Assert.Null(watched.LookAgain());
        Assert.Null(watched.LookAgain());
    }

    [Fact]
    public void LookAgain_TheFileWasChanged_IsReadOnceItIsAtRest()
    {
        var watched = Watch();
        Write(("influx[0].bucket", "\"other\""));
        Assert.Null(watched.LookAgain());
        Write(("influx[0].bucket", "\"a third\""));
        Assert.Null(watched.LookAgain());
        Assert.Equal("a third", watched.LookAgain()!.Options!.Influx[0].Bucket);
        Assert.Null(watched.LookAgain());
    }

    [Fact]
    public void LookAgain_AMistake_IsReadOnce_AndItsMendingToo()
    {
        var watched = Watch();
        System.IO.File.WriteAllText(File, "{ \"site\": ");
        Assert.Null(watched.LookAgain());
        Assert.NotEmpty(watched.LookAgain()!.Errors);
        Assert.Null(watched.LookAgain());

        // The secret is still known as one that may be what is mended next.
        System.IO.File.WriteAllText(_folder.File("token-2"), "third");
        Link("token-2");
        Assert.Null(watched.LookAgain());
        Assert.NotEmpty(watched.LookAgain()!.Errors);
        Write();
        Assert.Null(watched.LookAgain());
        Assert.Equal("third", watched.LookAgain()!.Options!.Influx[0].Token);
    }

    [Fact]
    public void LookAgain_TheSecretIsALinkToAnotherFileNow_IsRead()
    {
        var watched = Watch();
        System.IO.File.WriteAllText(_folder.File("token-2"), "other");
        Link("token-2");
        Assert.Null(watched.LookAgain());
        Assert.Equal("other", watched.LookAgain()!.Options!.Influx[0].Token);

        System.IO.File.Delete(_folder.File("token"));
        Assert.Null(watched.LookAgain());
        Assert.StartsWith("there is no file", Assert.Single(watched.LookAgain()!.Errors).Message, StringComparison.Ordinal);
    }

    private WatchedConfiguration Watch()
    {
        System.IO.File.WriteAllText(_folder.File("token-1"), "first");
        Link("token-1");
        Write();
        var loaded = ConfigurationFile.Load(File, Sample.NoEnvironment);
        Assert.Equal("first", loaded.Options!.Influx[0].Token);
        return new WatchedConfiguration(File, Sample.NoEnvironment, loaded);
    }

    private void Link(string target)
    {
        System.IO.File.Delete(_folder.File("token"));
        System.IO.File.CreateSymbolicLink(_folder.File("token"), _folder.File(target));
    }

    private void Write(params (string Path, string? Json)[] changes) =>
        System.IO.File.WriteAllText(File, Sample.With([("influx[0].token", null), ("influx[0].tokenFile", "\"token\""), .. changes]));
}
