using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Acquisition.Mqtt;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Brokers;

/// <summary>TLS to a real broker, with certificates of a plant's own authority; the publisher is the broker's own program.</summary>
public sealed class SecuredBrokerTests : IDisposable
{
    private static readonly string[] Here = ["127.0.0.1", "localhost"];

    private readonly PlantAuthority _authority = new();
    private readonly CollectedLog _log = new();

    [PeerTheory("mosquitto", "mosquitto_pub")]
    [InlineData(true)]
    [InlineData(false)]
    public async Task FramesArrive_WithOwnAuthorityAndClientCertificate(bool version5)
    {
        var (certificate, key) = _authority.Make("gateway-test", password: "hush");
        var publisher = _authority.Make("saw-1");
        await using var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here), wantsCertificate: true);
        var tls = new BrokerTlsOptions { CaFile = _authority.RootFile, CertificateFile = certificate, KeyFile = key, KeyPassword = "hush" };
        await using var source = Start(broker, tls, version5);
        await source.ListensAsync();

        await broker.PublishAsync("hall/saw-1", """{"load":2.5}""", "--cafile", _authority.RootFile, "--cert", publisher.Certificate, "--key", publisher.Key);

        await Until.TrueAsync(() => source.Take().Count == 1, "the frame");
        Assert.Equal(2.5, source.Taken[0].Number(Signal.MotorLoad));
        Assert.Equal([2200], _log.Entries.Select(entry => entry.Id));
    }

    [PeerFact("mosquitto")]
    public async Task AuthorityThatIsNotTheConfiguredOne_IsRefusedAndNamed()
    {
        using var other = new PlantAuthority("Somebody else");
        await using var broker = await MosquittoBroker.StartSecuredAsync(other, other.Make("broker", Here));
        await RefusedAsync(broker, new BrokerTlsOptions { CaFile = _authority.RootFile }, $"the authority of its certificate ('Somebody else') is not that of caFile ({_authority.RootFile})");
    }

    [PeerFact("mosquitto")]
    public async Task AuthorityThatTheMachineDoesNotKnow_IsRefused()
    {
        await using var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here));
        await RefusedAsync(broker, new BrokerTlsOptions(), "('Riverbend plant authority') is not one that this machine trusts; name the plant's own as caFile");
    }

    [PeerFact("mosquitto")]
    public async Task CertificateOfAnotherName_IsRefusedUnlessThatNameIsExpected()
    {
        await using var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", ["broker.riverbend.example", "10.1.2.3"]));
        var tls = new BrokerTlsOptions { CaFile = _authority.RootFile };
        await RefusedAsync(broker, tls, "its certificate is not made out to '127.0.0.1' but to 'broker.riverbend.example', '10.1.2.3'. Write the name that it holds");

        await using var source = Start(broker, tls with { ServerName = "broker.riverbend.example" });
        await source.ListensAsync();
    }

    [PeerFact("mosquitto")]
    public async Task CertificateThatHasExpiredOrIsNotYetValid_IsRefused()
    {
        var (old, young) = (DateTime.UtcNow.AddDays(-10), DateTime.UtcNow.AddDays(10));
        await using (var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here, to: TimeSpan.FromDays(-10))))
            await RefusedAsync(broker, new BrokerTlsOptions { CaFile = _authority.RootFile }, string.Create(CultureInfo.InvariantCulture, $"its certificate expired on {old:yyyy-MM-dd}; the broker needs a new one"));
        await using (var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here, from: TimeSpan.FromDays(10))))
            await RefusedAsync(broker, new BrokerTlsOptions { CaFile = _authority.RootFile }, string.Create(CultureInfo.InvariantCulture, $"its certificate is valid from {young:yyyy-MM-dd}"));
    }

    [PeerTheory("mosquitto")]
    [InlineData("tlsv1.2")]
    [InlineData("tlsv1.3")]
    public async Task BrokerThatWantsAClientCertificate_IsUnderstood(string version)
    {
        await using var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here), wantsCertificate: true, $"tls_version {version}");
        await RefusedAsync(broker, new BrokerTlsOptions { CaFile = _authority.RootFile }, "wants a certificate of the gateway");
    }

    [PeerFact("mosquitto")]
    public async Task ClientCertificateThatTheBrokerDoesNotTrust_IsReplacedWithoutARestart()
    {
        using var other = new PlantAuthority("Somebody else");
        using var folder = new TempFolder();
        void Put((string Certificate, string Key) made)
        {
            File.Copy(made.Certificate, folder.File("own.crt"), overwrite: true);
            File.Copy(made.Key, folder.File("own.key"), overwrite: true);
        }

        Put(other.Make("gateway-test"));
        await using var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here), wantsCertificate: true);
        await using var source = Start(broker, new BrokerTlsOptions { CaFile = _authority.RootFile, CertificateFile = folder.File("own.crt"), KeyFile = folder.File("own.key") });
        await Until.TrueAsync(() => _log.Count(2201) == 1, "the refusal is said");

        // With TLS 1.3 the broker refuses after the handshake, and may be gone before its reason is read.
        Assert.Matches("the gateway's is of another one \\('Somebody else'\\)|accept(s)? the gateway's certificate", _log.Entries.Single(entry => entry.Id == 2201).Text);

        Put(_authority.Make("gateway-test"));
        await source.ListensAsync();
        await Until.TrueAsync(() => _log.Count(2202) == 1, "that it is there again is said");
        Assert.Equal([2200, 2201, 2202], _log.Entries.Select(entry => entry.Id));
    }

    [PeerFact("mosquitto")]
    public async Task CertificateFileThatIsSpoiltWhileTheGatewayRuns_IsSaidAndTakenAgainWhenItIsWhole()
    {
        using var folder = new TempFolder();
        await using var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here));
        File.WriteAllText(folder.File("ca.crt"), "half");
        await using var source = Start(broker, new BrokerTlsOptions { CaFile = folder.File("ca.crt") });
        await Until.TrueAsync(() => _log.Count(2201) == 1, "the trouble is said");
        Assert.Contains($"{folder.File("ca.crt")} holds no certificate in PEM form", _log.Entries.Single(entry => entry.Id == 2201).Text, StringComparison.Ordinal);

        File.Copy(_authority.RootFile, folder.File("ca.crt"), overwrite: true);
        await source.ListensAsync();
    }

    [PeerFact("mosquitto")]
    public async Task BrokerWithoutTls_IsUnderstood()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await RefusedAsync(broker, new BrokerTlsOptions(), "Check the port (usually 8883)");
    }

    [PeerFact("mosquitto")]
    public async Task BrokerWithTls_ThatIsSpokenToWithout_IsNotHammered()
    {
        await using var broker = await MosquittoBroker.StartSecuredAsync(_authority, _authority.Make("broker", Here));
        await RefusedAsync(broker, null, "");
    }

    public void Dispose() => _authority.Dispose();

    private async Task RefusedAsync(MosquittoBroker broker, BrokerTlsOptions? tls, string words)
    {
        var before = _log.Count(2201);
        await using var source = Start(broker, tls);
        await Until.TrueAsync(() => _log.Count(2201) > before, "the refusal is said");
        Assert.Contains(words, _log.Entries.Last(entry => entry.Id == 2201).Text, StringComparison.Ordinal);
        Assert.Equal(0, source.Source.Connections);
    }

    private RunningSource Start(MosquittoBroker broker, BrokerTlsOptions? tls, bool version5 = true) =>
        new(Published.Broker(broker.Port) with { Tls = tls, Version5 = version5 }, [Published.Json(time: null)], _log);
}
