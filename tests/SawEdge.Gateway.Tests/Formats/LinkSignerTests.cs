using System.Security.Cryptography;
using CsCheck;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Formats;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Formats;

public sealed class LinkSignerTests
{
    private static readonly DateTimeOffset Now = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);
    private readonly LinkSigner _signer = new(RandomNumberGenerator.GetBytes(32));

    [Theory]
    [InlineData(AlarmAction.Acknowledge)]
    [InlineData(AlarmAction.Shelve)]
    [InlineData(AlarmAction.Confirm)]
    [InlineData(AlarmAction.Reject)]
    public void TryRead_OwnToken_GivesWhatWasSigned(AlarmAction action)
    {
        var token = _signer.Sign(long.MaxValue - 7, action, "Jürgen 锯", Now.AddHours(24));

        Assert.True(_signer.TryRead(token, Now.AddHours(24).AddSeconds(-1), out var link, out var problem), problem);

        Assert.Equal(new AnswerLink(long.MaxValue - 7, action, "Jürgen 锯", Now.AddHours(24), link.Nonce), link);
        Assert.Equal(24, link.Nonce.Length);
        Assert.Matches("^[A-Za-z0-9_-]+$", token);
    }

    [Fact]
    public void TryRead_Expired_SaysSo()
    {
        var token = _signer.Sign(1, AlarmAction.Acknowledge, "a", Now);

        Assert.False(_signer.TryRead(token, Now, out _, out var problem));
        Assert.Contains("expired", problem, StringComparison.Ordinal);
    }

    [Fact]
    public void TryRead_AnyBitChanged_IsRefused()
    {
        var token = _signer.Sign(12, AlarmAction.Acknowledge, "anna", Now.AddHours(1));
        for (var i = 0; i < token.Length; i++)
        {
            foreach (var other in "A-_9 .")
            {
                if (other != token[i])
                    Assert.False(_signer.TryRead(token[..i] + other + token[(i + 1)..], Now, out _, out _));
            }
        }
    }

    [Fact]
    public void TryRead_TokenOfAnotherKey_IsRefused() =>
        Assert.False(new LinkSigner(RandomNumberGenerator.GetBytes(32)).TryRead(_signer.Sign(1, AlarmAction.Confirm, "a", Now.AddHours(1)), Now, out _, out _));

    [Fact]
    public void TryRead_OtherSpellingsOfAToken_AreRefused()
    {
        var token = _signer.Sign(12, AlarmAction.Acknowledge, "anna", Now.AddHours(1));
        foreach (var other in new[] { token + "=", " " + token, token + " ", token + "\n", token.ToUpperInvariant(), token[..^1], "", new string('A', 5000) })
            Assert.False(_signer.TryRead(other, Now, out _, out _), other);
    }

    [Fact]
    public void TryRead_ArbitraryText_NeverThrows() =>
        Gen.String.Sample(text => !_signer.TryRead(text, Now, out _, out var problem) && problem.Length > 0, iter: 10_000);

    [Fact]
    public void Sign_Twice_GivesTwoTokens() =>
        Assert.NotEqual(_signer.Sign(1, AlarmAction.Reject, "a", Now), _signer.Sign(1, AlarmAction.Reject, "a", Now));

    [Fact]
    public void Sign_ActionWithoutALink_Throws() =>
        Assert.Throws<ArgumentOutOfRangeException>(() => _signer.Sign(1, AlarmAction.TakeOutOfService, "a", Now));

    [Fact]
    public void Open_SecondTime_HasTheSameKey_ReadableByItsOwnerOnly()
    {
        using var folder = new TempFolder();
        var token = LinkSigner.Open(folder.Path).Sign(3, AlarmAction.Shelve, "a", Now.AddHours(1));
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(folder.File(LinkSigner.FileName), UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.OtherRead);

        Assert.True(LinkSigner.Open(folder.Path).TryRead(token, Now, out _, out _));

        if (!OperatingSystem.IsWindows())
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(folder.File(LinkSigner.FileName)));
        Assert.Equal([LinkSigner.FileName], Directory.GetFiles(folder.Path).Select(Path.GetFileName));
    }

    [Fact]
    public void Open_NewKey_IsReadableByItsOwnerOnly()
    {
        using var folder = new TempFolder();
        LinkSigner.Open(folder.Path);
        if (!OperatingSystem.IsWindows())
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(folder.File(LinkSigner.FileName)));
    }

    [Fact]
    public void Open_DamagedKey_SaysWhatToDo()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File(LinkSigner.FileName), "short");

        Assert.Contains("Delete it", Assert.Throws<IOException>(() => LinkSigner.Open(folder.Path)).Message, StringComparison.Ordinal);
    }
}
