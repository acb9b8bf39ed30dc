using System.Net;
using System.Threading.RateLimiting;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.RateLimiting;

namespace SawEdge.Gateway.Api;

/// <summary>How many requests one address may make in a minute.</summary>
internal static class RequestLimits
{
    /// <summary>Links in messages: a person opens a few.</summary>
    public const int MostLinks = 120;

    /// <summary>Page and API: many people may sit behind one address.</summary>
    public const int MostOfOne = 6_000;

    /// <summary>Page and API from this machine, where a server for everybody may stand in front.</summary>
    public const int MostFromHere = 120_000;

    /// <summary>Sets them.</summary>
    public static void Set(RateLimiterOptions limiter)
    {
        limiter.RejectionStatusCode = StatusCodes.Status429TooManyRequests;
        limiter.OnRejected = (rejected, _) =>
        {
            rejected.HttpContext.Response.Headers.RetryAfter = "60";
            return ValueTask.CompletedTask;
        };
        limiter.GlobalLimiter = PartitionedRateLimiter.Create<HttpContext, (bool IsLink, string Remote)>(context =>
        {
            var (isLink, remote) = (context.GetEndpoint()?.Metadata.GetMetadata<LinkEndpoint>() is not null, context.Connection.RemoteIpAddress);
            var most = isLink ? MostLinks : remote is not null && IPAddress.IsLoopback(remote) ? MostFromHere : MostOfOne;
            return RateLimitPartition.GetFixedWindowLimiter((isLink, remote?.ToString() ?? ""), _ => new FixedWindowRateLimiterOptions { PermitLimit = most, Window = TimeSpan.FromMinutes(1) });
        });
    }
}

/// <summary>An endpoint behind a link in a message.</summary>
internal sealed record LinkEndpoint;
