using System.Security.Authentication;
using MQTTnet;
using MQTTnet.Exceptions;
using MQTTnet.Formatter;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Brokers;

/// <summary>
/// A client of a broker, the same way for the acquisition and for the alarms: address, TLS, user, limits, and what a failure means.
/// The files of the certificates are read at each connection, so that a renewed one is taken without a restart.
/// </summary>
internal sealed class BrokerClient : IDisposable
{
    private static readonly TimeSpan KeepAlive = TimeSpan.FromSeconds(15);

    private readonly MqttBrokerOptions _broker;
    private readonly TimeProvider _time;
    private readonly BoundedChannelFactory _channels;
    private BrokerCertificates? _certificates;

    /// <summary>Prepares a client; nothing is connected yet.</summary>
    /// <param name="broker">The broker.</param>
    /// <param name="time">The clock.</param>
    public BrokerClient(MqttBrokerOptions broker, TimeProvider time)
    {
        _broker = broker;
        _time = time;
        _channels = new BoundedChannelFactory(broker.MaximumPayloadBytes);
        Client = new MqttClientFactory().CreateMqttClient(_channels);
    }

    /// <summary>The library's client.</summary>
    public IMqttClient Client { get; }

    /// <summary>Says that a message that was received is done with, so that another may be read from the network.</summary>
    public void Handled() => _channels.Current?.Handled();

    /// <summary>Connects.</summary>
    /// <param name="clientId">The client identifier.</param>
    /// <param name="answerWithin">How long an answer is waited for.</param>
    /// <param name="configure">What else is asked of the connection.</param>
    /// <param name="cancellation">Gives up.</param>
    /// <exception cref="BrokerException">It cannot be connected to.</exception>
    /// <exception cref="OperationCanceledException">It was given up.</exception>
    public async Task ConnectAsync(string clientId, TimeSpan answerWithin, Func<MqttClientOptionsBuilder, MqttClientOptionsBuilder> configure, CancellationToken cancellation)
    {
        var check = ReadTls();
        var options = new MqttClientOptionsBuilder()
            .WithTcpServer(_broker.Host, _broker.Port)
            .WithClientId(clientId)
            .WithProtocolVersion(_broker.Version5 ? MqttProtocolVersion.V500 : MqttProtocolVersion.V311)
            .WithKeepAlivePeriod(KeepAlive)
            .WithTimeout(answerWithin);
        if (check is not null)
            options = options.WithTlsOptions(check.Build());
        if (_broker.User is not null)
            options = options.WithCredentials(_broker.User, _broker.Password);
        if (_broker.Version5)
            options = options.WithMaximumPacketSize(BoundedChannel.LargestPacketBytes).WithReceiveMaximum(BoundedChannel.MostUnacknowledged);
        MqttClientConnectResult result;
        try
        {
            result = await Client.ConnectAsync(configure(options).Build(), cancellation);
        }
        catch (Exception e) when (e is MqttCommunicationException or AuthenticationException or IOException)
        {
            // Giving up shows as all sorts of things, because it closes the connection.
            if (cancellation.IsCancellationRequested)
                throw new OperationCanceledException("The connection was given up.", e, cancellation);
            throw Explained(e, check);
        }

        if (result.ResultCode != MqttClientConnectResultCode.Success)
            throw new BrokerException("it " + BrokerWords.Refusal(result.ResultCode, result.ReasonString), NeedsMending(result.ResultCode));
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        Client.Dispose();
        _certificates?.Dispose();
    }

    private BrokerTlsCheck? ReadTls()
    {
        if (_broker.Tls is not { } tls)
            return null;
        if (!BrokerCertificates.TryRead(tls, out var read, out _, out var problem))
            throw new BrokerException($"{problem}.", needsMending: true);
        var now = _time.GetUtcNow();
        if (read.Own is { } own && BrokerCertificates.TroubleWithTime(tls.CertificateFile!, own, now) is { } trouble)
        {
            read.Dispose();
            throw new BrokerException($"{trouble}.", needsMending: true);
        }

        _certificates?.Dispose();
        _certificates = read;
        return new BrokerTlsCheck(tls, read, _broker.Host, now);
    }

    private static BrokerException Explained(Exception e, BrokerTlsCheck? check)
    {
        if (check?.Explain(e) is { } words)
            return new BrokerException(words, needsMending: true, e);

        // The library's own text names an address family and not what to do.
        return BrokerWords.SocketErrorOf(e) is { } error
            ? new BrokerException(BrokerWords.Of(error), needsMending: false, e)
            : new BrokerException($"no connection: {ControllerText.CleanUpTo(e.InnerException?.Message ?? e.Message, 200).TrimEnd('.')}.", needsMending: false, e);
    }

    private static bool NeedsMending(MqttClientConnectResultCode code) => code is not (
        MqttClientConnectResultCode.ServerUnavailable or
        MqttClientConnectResultCode.ServerBusy or
        MqttClientConnectResultCode.QuotaExceeded or
        MqttClientConnectResultCode.ConnectionRateExceeded);
}
