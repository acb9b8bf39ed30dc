using System.Collections;
using System.Reflection;
using System.Text.Json;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

public class SecretTests
{
    private const string Secret = "zK7-very-Secret";

    [Theory]
    [InlineData(Secret)]
    [InlineData(Secret + "\n")]
    [InlineData("\uFEFF" + Secret + "\r\n")]
    public void Load_ATokenFile_IsReadWithoutItsLineEnd(string content)
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("influx.token"), content);
        var options = Sample.Load(folder, Sample.With(("influx[0].token", null), ("influx[0].tokenFile", "\"influx.token\""))).Options();
        Assert.Equal(Secret, options.Influx[0].Token);
    }

    [Fact]
    public void Load_PasswordFiles_AreReadForBrokersAndServers()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("p"), Secret);
        var path = JsonSerializer.Serialize(folder.File("p"));
        var options = Sample.Load(folder, Sample.With(("brokers[0].user", "\"saw\""), ("brokers[0].passwordFile", path), ("influx[1].user", "\"saw\""), ("influx[1].passwordFile", path))).Options();
        Assert.Equal((Secret, Secret), (options.MqttBrokers[0].Password, options.Influx[1].Password));
    }

    [Theory]
    [InlineData(null, "there is no file {0}")]
    [InlineData("", "{0} is empty; it must hold the secret and nothing else")]
    [InlineData(" \n", "{0} is empty; it must hold the secret and nothing else")]
    [InlineData("user=a\npassword=" + Secret, "{0} holds more than one line; it must hold the secret and nothing else")]
    public void Load_ASecretFileThatIsNone_SaysWhatIsWrongWithIt(string? content, string expected)
    {
        using var folder = new TempFolder();
        if (content is not null)
            File.WriteAllText(folder.File("t"), content);
        var loaded = Sample.Load(folder, Sample.With(("influx[0].token", null), ("influx[0].tokenFile", "\"t\"")));
        Assert.Equal([$"error influx[0].tokenFile: {string.Format(System.Globalization.CultureInfo.InvariantCulture, expected, folder.File("t"))}"], loaded.Lines());
    }

    [Fact]
    public void Load_ACredential_IsTheOneThatTheServiceManagerHandsOver()
    {
        using var folder = new TempFolder();
        using var credentials = new TempFolder();
        File.WriteAllText(credentials.File("influx"), "from systemd\n");
        LoadedConfiguration With(string stated, string? handedOver) => Sample.Load(folder, Sample.With(("influx[0].token", null), ("influx[0].tokenFile", JsonSerializer.Serialize(stated))), handedOver is null ? null : new Dictionary<string, string> { ["CREDENTIALS_DIRECTORY"] = handedOver });

        Assert.Equal("from systemd", With("credential:influx", credentials.Path).Options().Influx[0].Token);
        Assert.Equal([$"error influx[0].tokenFile: there is no file {credentials.File("other")}"], With("credential:other", credentials.Path).Lines());
        Assert.Equal(["error influx[0].tokenFile: '../passwd' is no name of a credential; write credential: and the name before the colon in LoadCredential="], With("credential:../passwd", credentials.Path).Lines());

        // As when a person checks a service's configuration.
        Assert.Equal(["warning influx[0].tokenFile: is handed over by the service manager, which does not run this: not looked at"], With("credential:influx", null).Lines());
    }

    [Fact]
    public void Load_ASecretFileThatIsAFolderOrBinaryOrHuge_SaysSo()
    {
        using var folder = new TempFolder();
        LoadedConfiguration With(string file) => Sample.Load(folder, Sample.With(("influx[0].token", null), ("influx[0].tokenFile", JsonSerializer.Serialize(file))));

        Assert.Equal([$"error influx[0].tokenFile: {folder.Path} is a folder; name the file that holds the secret"], With(folder.Path).Lines());
        File.WriteAllBytes(folder.File("b"), [0xFF, 0xFE, 0x41]);
        Assert.Equal([$"error influx[0].tokenFile: {folder.File("b")} holds bytes that are no UTF-8 text"], With("b").Lines());
        File.WriteAllText(folder.File("h"), new string('x', 70_000));
        Assert.Equal([$"error influx[0].tokenFile: {folder.File("h")} is larger than 64 KiB; the file holds the secret and nothing else"], With("h").Lines());
    }

    /// <summary>/proc/self/mem is a file that nobody can read from its beginning, the administrator included.</summary>
    [PeerFact("/proc/self/mem")]
    public void Load_ASecretFileThatCannotBeRead_SaysSo()
    {
        var finding = Assert.Single(Sample.Load(Sample.With(("influx[0].token", null), ("influx[0].tokenFile", "\"/proc/self/mem\""))).Findings);
        Assert.Equal("influx[0].tokenFile", finding.Path);
        Assert.StartsWith("/proc/self/mem cannot be read: ", finding.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Load_ASecretAndItsFile_AreOneTooMany()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("t"), Secret);
        var loaded = Sample.Load(folder, Sample.With("influx[0].tokenFile", "\"t\""));
        Assert.Equal(["error influx[0].tokenFile: token is stated as well; keep one of the two"], loaded.Lines());
    }

    [Fact]
    public void Load_ASecretInTheEnvironment_TakesThePlaceOfTheFileNamedInTheConfiguration()
    {
        using var folder = new TempFolder();
        var loaded = Sample.Load(folder, Sample.With(("influx[0].token", null), ("influx[0].tokenFile", "\"is-not-there\"")), new Dictionary<string, string> { ["SAWEDGE_influx__0__token"] = Secret });
        Assert.Equal(Secret, loaded.Options().Influx[0].Token);
    }

    [Fact]
    public void Load_ASecretFileInTheEnvironment_TakesThePlaceOfTheSecretInTheConfiguration()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("t"), Secret);
        var loaded = Sample.Load(folder, Sample.With("influx[0].token", "\"old\""), new Dictionary<string, string> { ["SAWEDGE_influx__0__tokenFile"] = folder.File("t") });
        Assert.Equal(Secret, loaded.Options().Influx[0].Token);
    }

    [Fact]
    public void Load_ASecretInAFileThatEverybodyMayRead_IsWarnedOf()
    {
        if (OperatingSystem.IsWindows())
            return;
        using var folder = new TempFolder();
        var path = folder.File("open.json");
        File.WriteAllText(path, Sample.With("influx[0].token", $"\"{Secret}\""));
        File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.OtherRead);
        var loaded = ConfigurationFile.Load(path, Sample.NoEnvironment);
        Assert.Equal(["warning influx[0].token: stands in a file that everybody on this machine may read; take that right away (chmod o-r), or keep the secret in a file of its own or an environment variable"], loaded.Lines());

        // The environment's secrets do not stand in the file.
        File.WriteAllText(path, Sample.With("influx[0].token", null));
        Assert.Empty(ConfigurationFile.Load(path, new Dictionary<string, string> { ["SAWEDGE_influx__0__token"] = Secret }).Findings);
    }

    [Theory]
    [InlineData("influx[0].token", "[\"" + Secret + "\"]")]
    [InlineData("influx[0].token", "{\"" + Secret + "\":1}")]
    [InlineData("influx[0].token", "\"" + Secret + "\\n\"")]
    [InlineData("influx[0].url", "\"https://saw:" + Secret + "@influx.example\"")]
    [InlineData("influx[0].url", "\"https://influx.example?token=" + Secret + "\"")]
    [InlineData("influx[0].url", "\"saw:" + Secret + "@influx.example\"")]
    [InlineData("brokers[0].host", "\"saw:" + Secret + "@broker.example\"")]
    [InlineData("brokers[0].host", "\"mqtt://saw:" + Secret + "@broker.example\"")]
    [InlineData("brokers[0].password", "\"" + Secret + "\"")]
    [InlineData("alarms.channels", "[{\"name\":\"a\",\"kind\":\"webhook\",\"url\":\"https://saw:" + Secret + "@hooks.example\"}]")]
    [InlineData("alarms.channels", "[{\"name\":\"a\",\"kind\":\"webhook\",\"url\":\"hooks.example/" + Secret + "\"}]")]
    [InlineData("alarms.channels", "[{\"name\":\"a\",\"kind\":\"webhook\",\"url\":\"https://hooks.example?t=" + Secret + "#x\"}]")]
    [InlineData("alarms.channels", "[{\"name\":\"a\",\"kind\":\"webhook\",\"url\":\"https://hooks.example\",\"secret\":[\"" + Secret + "\"]}]")]
    [InlineData("alarms.channels", "[{\"name\":\"a\",\"kind\":\"email\",\"host\":\"saw:" + Secret + "@mail.example\",\"from\":\"s@r.example\"}]")]
    [InlineData("alarms.channels", "[{\"name\":\"a\",\"kind\":\"email\",\"host\":\"mail.example\",\"from\":\"s@r.example\",\"password\":\"" + Secret + "\"}]")]
    public void Load_AMistakeAroundASecret_DoesNotQuoteIt(string path, string json)
    {
        var loaded = Sample.Load(Sample.With(path, json));
        Assert.NotEmpty(loaded.Errors);
        Assert.All(loaded.Findings, finding => Assert.DoesNotContain(Secret, finding.ToString(), StringComparison.Ordinal));
    }

    [Fact]
    public void ToString_OfEveryOption_HidesSecrets()
    {
        var options = Sample.Load(AlarmSample.With(
            ("alarms.channels[0].user", "\"saw\""),
            ("alarms.channels[0].password", $"\"{Secret}\""),
            ("alarms.channels[1].secret", $"\"{Secret}\""),
            ("alarms.channels[1].token", $"\"{Secret}\""),
            ("influx[0].token", $"\"{Secret}\""),
            ("influx[1].user", "\"saw\""),
            ("influx[1].password", $"\"{Secret}\""),
            ("brokers[0].user", "\"saw\""),
            ("brokers[0].password", $"\"{Secret}\""))).Options();
        Assert.Equal((Secret, Secret, Secret), (options.Influx[0].Token, options.Influx[1].Password, options.MqttBrokers[0].Password));

        var printed = new List<string>();
        Print(options, printed);
        Assert.True(printed.Count >= 15, $"only {printed.Count} objects were printed");
        Assert.All(printed, text => Assert.DoesNotContain(Secret, text, StringComparison.Ordinal));
        Assert.Contains("Token = set", options.Influx[0].ToString(), StringComparison.Ordinal);
        Assert.Contains("Password = none", options.Influx[0].ToString(), StringComparison.Ordinal);
        var numbers = new JsonSerializerOptions { NumberHandling = System.Text.Json.Serialization.JsonNumberHandling.AllowNamedFloatingPointLiterals };
        Assert.DoesNotContain(Secret, JsonSerializer.Serialize(options, numbers), StringComparison.Ordinal);
        Assert.All(options.Alarms.Channels, channel => Assert.DoesNotContain(Secret, JsonSerializer.Serialize(channel, channel.GetType(), numbers), StringComparison.Ordinal));
    }

    /// <summary>A record added later with a secret of its own must hide it too: every text member named like one is looked for.</summary>
    [Fact]
    public void EveryOptionsRecord_WithASecretMember_PrintsItHidden()
    {
        var withSecrets = typeof(GatewayOptions).Assembly.GetTypes()
            .Where(type => type.Namespace == typeof(GatewayOptions).Namespace && type.Name.EndsWith("Options", StringComparison.Ordinal))
            .SelectMany(type => type.GetProperties().Where(property => property.PropertyType == typeof(string) && property.Name is "Token" or "Password" or "Secret" or "Key").Select(property => (Type: type, Property: property)))
            .ToList();
        Assert.True(withSecrets.Count >= 3);
        foreach (var (type, property) in withSecrets)
        {
            var made = System.Runtime.CompilerServices.RuntimeHelpers.GetUninitializedObject(type);
            property.SetValue(made, Secret);
            foreach (var address in type.GetProperties().Where(other => other.PropertyType == typeof(Uri)))
                address.SetValue(made, new Uri("https://peer.example"));
            Assert.DoesNotContain(Secret, made.ToString(), StringComparison.Ordinal);
            Assert.NotNull(property.GetCustomAttribute<System.Text.Json.Serialization.JsonIgnoreAttribute>());
        }
    }

    private static void Print(object value, List<string> printed)
    {
        printed.Add(value.ToString()!);
        if (value is IEnumerable items and not string)
        {
            foreach (var item in items)
                Print(item, printed);
        }
        else if (value.GetType().Namespace == typeof(GatewayOptions).Namespace && !value.GetType().IsEnum)
        {
            foreach (var member in value.GetType().GetProperties().Select(property => property.GetValue(value)).OfType<object>().Where(member => member is not string))
                Print(member, printed);
        }
    }
}
