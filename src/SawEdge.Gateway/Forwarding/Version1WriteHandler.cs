using System.Net.Http.Headers;
using System.Text;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Lets a 1.x server be written to through the v2 client: <c>/api/v2/write?bucket=DB/RP&amp;precision=..</c> becomes
/// <c>/write?db=DB&amp;rp=RP&amp;precision=..</c>. User and password go into the Authorization header and not, as they
/// also could, into the address, where proxies and the server's own log would keep them.
/// </summary>
internal sealed class Version1WriteHandler : DelegatingHandler
{
    private const string WritePath = "/api/v2/write";

    private readonly AuthenticationHeaderValue? _authorization;

    /// <summary>A handler for one server.</summary>
    public Version1WriteHandler(HttpMessageHandler inner, string? user, string? password)
        : base(inner)
    {
        if (user is not null)
            _authorization = new AuthenticationHeaderValue("Basic", Convert.ToBase64String(Encoding.UTF8.GetBytes($"{user}:{password}")));
    }

    /// <summary>The address on a 1.x server; any other address than that of a write is left alone.</summary>
    public static Uri Map(Uri address)
    {
        if (!address.AbsolutePath.EndsWith(WritePath, StringComparison.Ordinal))
            return address;

        var query = new List<string>();
        foreach (var pair in address.Query.TrimStart('?').Split('&', StringSplitOptions.RemoveEmptyEntries))
        {
            var parts = pair.Split('=', 2);
            var value = parts.Length < 2 ? "" : Uri.UnescapeDataString(parts[1]);
            switch (parts[0])
            {
                case "bucket":
                    // As the 1.8 servers' own compatibility path reads it: database, slash, retention policy.
                    var names = value.Split('/', 2);
                    query.Add("db=" + Uri.EscapeDataString(names[0]));
                    if (names is [_, { Length: > 0 } policy])
                        query.Add("rp=" + Uri.EscapeDataString(policy));
                    break;
                case "precision":
                    query.Add("precision=" + (value == "us" ? "u" : value));
                    break;
            }
        }

        return new UriBuilder(address)
        {
            Path = address.AbsolutePath[..^WritePath.Length] + "/write",
            Query = string.Join('&', query),
        }.Uri;
    }

    /// <inheritdoc/>
    protected override Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
    {
        if (request.RequestUri is { } address)
            request.RequestUri = Map(address);
        if (_authorization is not null)
            request.Headers.Authorization = _authorization;
        return base.SendAsync(request, cancellationToken);
    }
}
