using SawEdge.Gateway.Api;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.Commands.Tokens;

public sealed class TokenCommandTests : IDisposable
{
    private readonly Asked _asked = new();

    public void Dispose() => _asked.Dispose();

    [Fact]
    public async Task Make_ShowsTheTokenOnce_KeepsItsHash_AndSaysWhoMadeIt()
    {
        var (code, output, error) = _asked.Run("token", "make", "office", "--role", "operate", "--valid-for", "90 days");
        Assert.Equal(0, code);
        var token = Assert.Single(output);
        Assert.True(ApiToken.IsOne(token));
        Assert.Equal("Token 'office' for the role operate holds until 2026-06-07 13:00. It is shown this once; whoever has it can use it:", Assert.Single(error));

        var reader = HistoryReader.OpenFolder(_asked.Data);
        var stored = (await reader.TokenAsync(ApiToken.Hash(token)))!;
        Assert.Equal(("office", "operate", Asked.Now.AddDays(90)), (stored.Name, stored.Role, stored.ExpiresAt));
        var audit = Assert.Single(await reader.AuditAsync(null, null, null, 10));
        Assert.Equal((Environment.UserName, "command line", "token.make", "office"), (audit.Entry.Who, audit.Entry.Origin, audit.Entry.Action, audit.Entry.Subject));
        Assert.DoesNotContain(token, string.Join('\n', _asked.Done("token", "list")), StringComparison.Ordinal);
    }

    [Fact]
    public void NamesAreUnique_AmongThoseThatHold()
    {
        _asked.Run("token", "make", "office", "--role", "view", "--valid-for", "1 h");
        Assert.Equal("There is a token 'office' already; choose another name, or revoke that one first with 'sawedge token revoke'.", _asked.Refused("token", "make", "office", "--role", "view"));
        _asked.Time.Advance(TimeSpan.FromHours(1));
        Assert.Equal(0, _asked.Run("token", "make", "office", "--role", "view").Code);
        Assert.Equal(["Token 'office' is revoked."], _asked.Done("token", "revoke", "office"));
        Assert.Equal("There is no token 'office' that holds; 'sawedge token list' shows them.", _asked.Refused("token", "revoke", "office"));
        Assert.Equal(["There is no token; 'sawedge token make NAME --role view' makes one."], _asked.Done("token", "list"));
        Assert.Equal(2, _asked.Done("token", "list", "--all").Length);
    }

    [Fact]
    public async Task BesideARunningGateway_IsSeenByIt()
    {
        await using var history = _asked.Open();
        var (code, output, _) = _asked.Run("token", "make", "display", "--role", "view");
        Assert.Equal(0, code);
        Assert.NotNull(await history.Reader.TokenAsync(ApiToken.Hash(output[0])));
    }

    [Theory]
    [InlineData("--valid-for 'soon' is no time; write for example \"90 days\".", "office", "--role", "view", "--valid-for", "soon")]
    [InlineData("The name of a token has 1 to 64 characters; write for example \"office\".", " ", "--role", "view")]
    public void Wrong_IsSaid(string expected, params string[] arguments) => Assert.Equal(expected, _asked.Refused(["token", "make", .. arguments]));
}
