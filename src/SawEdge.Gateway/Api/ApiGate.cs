using System.Globalization;
using System.Net;
using System.Threading.RateLimiting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Api;

/// <summary>
/// Who may do what. The person at the gateway's own machine may look, and operate where the configuration lets him; everybody else needs
/// a token with a role.
/// </summary>
internal sealed class ApiGate : IDisposable
{
    /// <summary>Wrong tokens of one address in a minute; then it has to wait.</summary>
    public const int MostWrong = 30;

    private const int LongestOrigin = 100;
    private const string Scheme = "Bearer ";

    // Set by servers that stand in front: then the request is not of this machine, whatever its last step is.
    private static readonly string[] Forwarded = ["Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP", "Via"];

    private readonly HttpOptions _options;
    private readonly HistoryReader _reader;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly bool _isBehindAnother;
    private readonly PartitionedRateLimiter<string> _wrong;

    /// <summary>Makes the gate.</summary>
    /// <param name="options">What holds for this machine.</param>
    /// <param name="outside">The addresses by which people reach the gateway from outside.</param>
    /// <param name="reader">The tokens.</param>
    /// <param name="time">The wall clock.</param>
    /// <param name="logger">Where it speaks.</param>
    public ApiGate(HttpOptions options, IEnumerable<Uri> outside, HistoryReader reader, TimeProvider time, ILogger logger)
    {
        _options = options;
        _reader = reader;
        _time = time;
        _logger = logger;
        _isBehindAnother = outside.Any(address => !address.IsLoopback);
        _wrong = PartitionedRateLimiter.Create<string, string>(remote => RateLimitPartition.GetFixedWindowLimiter(remote, _ => new FixedWindowRateLimiterOptions { PermitLimit = MostWrong, Window = TimeSpan.FromMinutes(1) }));
    }

    /// <summary>Lets a request pass to the next step, or answers it.</summary>
    public async Task PassAsync(HttpContext context, RequestDelegate next)
    {
        if (context.GetEndpoint()?.Metadata.GetMetadata<RoleNeeded>() is not { } needed)
        {
            await next(context);
            return;
        }

        if (await RefuseAsync(context, needed.Role) is { } problem)
        {
            if (problem.Status == StatusCodes.Status401Unauthorized)
                context.Response.Headers.WWWAuthenticate = "Bearer realm=\"sawedge\"";
            await problem.ExecuteAsync(context);
            return;
        }

        await next(context);
    }

    /// <inheritdoc/>
    public void Dispose() => _wrong.Dispose();

    /// <summary>Where a request comes from, as the audit trail says it.</summary>
    public static string OriginOf(HttpContext context)
    {
        var remote = AddressOf(context)?.ToString() ?? "unknown";
        var before = ControllerText.CleanUpTo(context.Request.Headers["X-Forwarded-For"].ToString(), LongestOrigin);
        return before.Length == 0 ? remote : $"{remote}, which says: for {before}";
    }

    private static IPAddress? AddressOf(HttpContext context) => context.Connection.RemoteIpAddress is { IsIPv4MappedToIPv6: true } mapped ? mapped.MapToIPv4() : context.Connection.RemoteIpAddress;

    private async Task<ApiProblem?> RefuseAsync(HttpContext context, ApiRole needed)
    {
        if (ComesFromAnotherPage(context.Request))
            return ApiProblem.Forbidden("This request was begun by a page of another site; such are not answered.");
        var written = context.Request.Headers.Authorization.ToString();
        if (written.Length == 0)
            return IsOfThisMachine(context) ? RefuseHere(context, needed) : ApiProblem.Unauthorized("Send a token as 'Authorization: Bearer TOKEN'. 'sawedge token make NAME --role view' on the gateway's machine makes one.");

        var remote = AddressOf(context)?.ToString() ?? "";
        var (token, problem) = await FindAsync(written, context.RequestAborted);
        if (token is null)
        {
            using var lease = _wrong.AttemptAcquire(remote);
            if (!lease.IsAcquired)
            {
                context.Response.Headers.RetryAfter = "60";
                return ApiProblem.TooMany("Too many wrong tokens came from this address; try again in a minute.");
            }

            // The first of many is enough for the log, and what was sent stays out of it.
            if (_wrong.GetStatistics(remote)?.CurrentAvailablePermits == MostWrong - 1)
                ApiLog.Refused(_logger, remote, problem);
            return ApiProblem.Unauthorized($"{problem}.");
        }

        var role = ApiToken.RoleOf(token.Role) ?? ApiRole.View;
        if (role < needed)
            return ApiProblem.Forbidden($"The token '{token.Name}' has the role {token.Role}; this needs {ApiToken.WordOf(needed)}.");
        context.Items[typeof(ApiCaller)] = new ApiCaller(token.Name, role, OriginOf(context)) { MayGoOn = async cancellation => (await FindAsync(written, cancellation)).Token is not null };
        return null;
    }

    private ApiProblem? RefuseHere(HttpContext context, ApiRole needed)
    {
        var role = _options.OperateOnLoopback ? ApiRole.Operate : ApiRole.View;
        if (role < needed)
            return ApiProblem.Unauthorized($"This needs a token with the role {ApiToken.WordOf(needed)}, sent as 'Authorization: Bearer TOKEN'. 'sawedge token make NAME --role {ApiToken.WordOf(needed)}' makes one.");
        context.Items[typeof(ApiCaller)] = new ApiCaller(ApiCaller.AtTheMachine, role, OriginOf(context));
        return null;
    }

    private async Task<(StoredToken? Token, string Problem)> FindAsync(string written, CancellationToken cancellation)
    {
        var text = written.StartsWith(Scheme, StringComparison.OrdinalIgnoreCase) ? written[Scheme.Length..].Trim() : null;
        if (!ApiToken.IsOne(text) || await _reader.TokenAsync(ApiToken.Hash(text), cancellation) is not { } token)
            return (null, "This token is none of this gateway's");
        if (token.RevokedAt is not null)
            return (null, "This token was revoked");
        return token.ExpiresAt <= _time.GetUtcNow() ? (null, string.Create(CultureInfo.InvariantCulture, $"This token expired on {token.ExpiresAt:yyyy-MM-dd}")) : (token, "");
    }

    // A page of another site can make a browser on this machine ask, under a name of its own that leads here (DNS rebinding) or by a form.
    // The host must be named as this machine's, and where a browser says which page it is, that page must be ours.
    private bool IsOfThisMachine(HttpContext context)
    {
        var (remote, local) = (AddressOf(context), context.Connection.LocalIpAddress);
        return !_isBehindAnother
            && remote is not null && IPAddress.IsLoopback(remote)
            && local is not null && IPAddress.IsLoopback(local)
            && IsLoopback(context.Request.Host.Host)
            && !Forwarded.Any(context.Request.Headers.ContainsKey);
    }

    private static bool IsLoopback(string host) =>
        string.Equals(host, "localhost", StringComparison.OrdinalIgnoreCase) || (IPAddress.TryParse(host.Trim('[', ']'), out var address) && IPAddress.IsLoopback(address));

    private static bool ComesFromAnotherPage(HttpRequest request)
    {
        var page = request.Headers["Sec-Fetch-Site"].ToString();
        if (page is "cross-site" or "same-site")
            return true;

        // Of browsers that do not send it: changes carry the page's origin.
        var origin = request.Headers.Origin.ToString();
        return page.Length == 0 && origin.Length > 0 && !HttpMethods.IsGet(request.Method) && !HttpMethods.IsHead(request.Method)
            && (!Uri.TryCreate(origin, UriKind.Absolute, out var from) || !string.Equals(from.Authority, request.Host.Value, StringComparison.OrdinalIgnoreCase));
    }
}
