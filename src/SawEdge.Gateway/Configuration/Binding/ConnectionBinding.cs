using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares what the gateway connects to, Modbus devices aside: MQTT brokers, InfluxDB destinations.</summary>
internal static class ConnectionBinding
{
    /// <summary>One MQTT broker.</summary>
    public static ObjectType<MqttBrokerOptions> Broker { get; } = new("broker", "One connection to an MQTT broker.", BindBroker);

    /// <summary>One InfluxDB destination.</summary>
    public static ObjectType<InfluxOptions> Influx { get; } = new("influx", "One InfluxDB server to write to. Each keeps its own place in the history and catches up after an outage.", BindInflux);

    private static readonly ConfigType<IReadOnlyList<Setting<PointChoice>>> Points = new ListType<PointChoice>(
        new ChoiceType<PointChoice>([.. PointChoices.All.Select(known => (known.Word, known.Choice, known.Meaning))]), 1, "name at least one kind of points, or leave \"points\" out for the usual ones");

    private static MqttBrokerOptions BindBroker(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("hall"), "Name, unique; saws refer to it.");
        var host = o.Required("host", ValueTypes.Host, "Host name or address.");
        var port = o.OptionalValue("port", ValueTypes.Port, "TCP port. Left out: 1883, with \"tls\" 8883.");
        var tls = o.Optional("tls", BrokerTlsBinding.Type, "Secures the connection. Left out: everything crosses the network in the clear.");
        var version5 = o.Default("version", new ChoiceType<bool>(("5", true, "MQTT 5.0."), ("3.1.1", false, "MQTT 3.1.1.")), "5", "Version of the protocol.");
        var clientId = o.Optional("clientId", ValueTypes.Text("sawedge-hall-2"), "Client identifier, unique at the broker. Left out: \"sawedge-\" and the name of the gateway.");
        var user = o.Optional("user", ValueTypes.Text("sawedge"), "User name.");
        var password = o.Secret("password", "Password.");
        var keep = o.Default("keepSession", ValueTypes.Flag, "false", "Whether the broker keeps messages for the gateway while it is away. Only where every saw of the broker sends payloads with a time of their own (timeMember).");
        var presence = o.Optional("presenceTopic", MqttSignals.OwnTopic, "Topic of the gateway's own presence, retained: \"online\" while it listens, \"offline\" when it has left or is gone (its last will).");
        var sparkplug = o.Optional("sparkplug", SparkplugBinding.Host, "What the gateway does as a host application for the saws with Sparkplug metrics. Left out: it only listens.");
        var payload = o.Default("maximumPayload", new QuantityType<int>(QuantityKind.Data, "64 B", "16 MiB", value => (int)value), "64 KiB", "Largest message that is looked at.");

        // MQTT 3.1.1, [MQTT-3.1.2-22]: a password without a user name is a violation of the protocol.
        if (password.IsStated && !user.IsStated)
            o.Error(password, "a password needs a user; write \"user\" as well");
        else
            BrokerTlsBinding.InTheClear(o, password, host, tls.IsStated);
        return new MqttBrokerOptions
        {
            Name = name,
            Host = host,
            Port = port.Value ?? (tls.IsStated ? 8883 : 1883),
            Tls = tls,
            PresenceTopic = presence,
            Sparkplug = sparkplug,
            Version5 = version5,
            ClientId = clientId.Value!,
            User = user,
            Password = password,
            KeepSession = keep,
            MaximumPayloadBytes = payload,
        };
    }

    private static InfluxOptions BindInflux(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("plant"), "Name, unique. It marks this destination's place in the history: keep it when anything else changes.");
        if (name is { IsGood: true, Value: "files" })
            o.Error(name, "is what the places of daily files in the history begin with; choose another");
        var url = o.Required("url", ValueTypes.Url, "Base address of the server.");
        var batch = o.Default("batchSize", new IntegerType(1, 100_000, "5000"), "5000", "Most points in one request.");
        var wait = o.Default("maximumWait", ValueTypes.Time("10 ms", "5 min"), "1 s", "Longest time a point waits for its batch to fill.");
        var timeout = o.Default("timeout", ValueTypes.Time("100 ms", "5 min"), "10 s", "How long to wait for the server's answer.");
        var points = o.Optional("points", Points, "What this destination is sent. Left out: everything but \"signals\", which are more than all else together. What is asked for later begins with what the history holds then; signals begin with those taken from then on. 'sawedge outbox again' sends what lies before.");
        var target = o.Variants<InfluxOptions>(
            "version",
            "Version of the server's write interface.",
            "2",
            [
                new("2", "InfluxDB 2 and later, and 1.8 through its v2 path: bucket and token.", server => BindVersion2(server, url)),
                new("1", "InfluxDB 1.x: database, user and password.", server => BindVersion1(server, url)),
            ]);
        return (target ?? new InfluxOptions { Name = "", Url = url, Bucket = "" }) with
        {
            Name = name,
            Url = url,
            BatchSize = batch,
            MaximumWait = wait,
            Timeout = timeout,
            Points = points.Value is { } chosen ? chosen.Aggregate(PointChoice.None, (all, one) => all | one.Value) : PointChoice.Usual,
        };
    }

    private static InfluxOptions BindVersion2(ConfigObject o, Setting<Uri> url)
    {
        var organization = o.Optional("org", ValueTypes.Text("riverbend"), "Organisation.");
        var bucket = o.Required("bucket", ValueTypes.Text("saws"), "Bucket.");
        var token = o.Secret("token", "Token with the right to write to the bucket.");
        if (!token.IsStated)
            o.WarningAt("token", "is missing; most servers refuse to be written to without one (token, tokenFile or an environment variable)");
        InTheClear(o, token, url);
        return new InfluxOptions { Name = "", Url = url, Organization = organization, Bucket = bucket, Token = token };
    }

    private static InfluxOptions BindVersion1(ConfigObject o, Setting<Uri> url)
    {
        var part = new TextType("name", "saws", text => text.Contains('/', StringComparison.Ordinal) ? $"{Words.Quoted(text)} holds a /; write the name alone" : null);
        var database = o.Required("database", part, "Database; it must exist.");
        var policy = o.Optional("retentionPolicy", part, "Retention policy of the database. Left out: the database's own default.");
        var user = o.Optional("user", ValueTypes.Text("sawedge"), "User, where the server asks for one.");
        var password = o.Secret("password", "Password of the user.");
        if (password.IsStated && !user.IsStated)
            o.Error(password, "a password needs a user; write \"user\" as well");
        else if (user.IsStated && !password.IsStated)
            o.ErrorAt("password", "is missing; a user needs a password or passwordFile");
        InTheClear(o, password, url);
        return new InfluxOptions
        {
            Name = "",
            Url = url,
            Version1 = true,
            Bucket = policy.Value is null ? database : $"{database.Value}/{policy.Value}",
            User = user,
            Password = password,
        };
    }

    private static void InTheClear(ConfigObject o, Setting<string?> secret, Setting<Uri> url)
    {
        if (secret.IsStated && url.IsGood && url.Value.Scheme == "http" && !url.Value.IsLoopback)
            o.Warning(url, "the secret crosses the network in the clear; write https:// where the server offers it");
    }
}
