using System.Globalization;
using System.Text;
using System.Text.Json.Serialization;

namespace SawEdge.Gateway.Configuration;

/// <summary>One InfluxDB destination.</summary>
public sealed record InfluxOptions
{
    /// <summary>Name of the destination: the consumer's name in the history; unique.</summary>
    public required string Name { get; init; }

    /// <summary>Base address of the server.</summary>
    public required Uri Url { get; init; }

    /// <summary>True for a 1.x server without the v2 write path.</summary>
    public bool Version1 { get; init; }

    /// <summary>Organisation (v2), or null.</summary>
    public string? Organization { get; init; }

    /// <summary>Bucket (v2), or <c>database/retention-policy</c> (1.x; <c>database</c> alone means its default policy).</summary>
    public required string Bucket { get; init; }

    /// <summary>Token (v2), or null. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? Token { get; init; }

    /// <summary>User (1.x), or null.</summary>
    public string? User { get; init; }

    /// <summary>Password (1.x), or null. Never logged, printed or serialized.</summary>
    [JsonIgnore]
    public string? Password { get; init; }

    /// <summary>Most points in one request.</summary>
    public int BatchSize { get; init; } = 5000;

    /// <summary>Longest time a point waits for its batch to fill.</summary>
    public TimeSpan MaximumWait { get; init; } = TimeSpan.FromSeconds(1);

    /// <summary>How long to wait for the server's answer.</summary>
    public TimeSpan Timeout { get; init; } = TimeSpan.FromSeconds(10);

    /// <summary>What it is sent.</summary>
    public PointChoice Points { get; init; } = PointChoice.Usual;

    // Takes the place of the compiler's, which would print the secrets.
    private bool PrintMembers(StringBuilder builder)
    {
        builder.Append(CultureInfo.InvariantCulture, $"Name = {Name}, Url = {Url}, Version1 = {Version1}, Organization = {Organization}, Bucket = {Bucket}, ");
        builder.Append(CultureInfo.InvariantCulture, $"Token = {(Token is null ? "none" : "set")}, User = {User}, Password = {(Password is null ? "none" : "set")}, ");
        builder.Append(CultureInfo.InvariantCulture, $"BatchSize = {BatchSize}, MaximumWait = {MaximumWait}, Timeout = {Timeout}, Points = {Points}");
        return true;
    }
}
