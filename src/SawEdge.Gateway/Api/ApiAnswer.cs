using System.Security.Cryptography;
using System.Text.Json;
using Microsoft.AspNetCore.Http;
using Microsoft.Net.Http.Headers;

namespace SawEdge.Gateway.Api;

/// <summary>Answers of the API.</summary>
internal static class ApiAnswer
{
    private const string Json = "application/json; charset=utf-8";

    /// <summary>Something that changes all the time: nobody keeps it.</summary>
    public static IResult Live<T>(T value) => new Answer<T>(value, isPast: false, StatusCodes.Status200OK);

    /// <summary>Something that changes seldom: whoever has it already is told so by its ETag and gets no body.</summary>
    public static IResult Past<T>(T value) => new Answer<T>(value, isPast: true, StatusCodes.Status200OK);

    /// <summary>The same of what is JSON already.</summary>
    public static IResult PastJson(byte[] json) => new Answer<byte[]>(json, isPast: true, StatusCodes.Status200OK);

    /// <summary>What was made.</summary>
    public static IResult Made<T>(T value) => new Answer<T>(value, isPast: false, StatusCodes.Status201Created);

    /// <summary>What was taken down and is not done yet.</summary>
    public static IResult Taken<T>(T value) => new Answer<T>(value, isPast: false, StatusCodes.Status202Accepted);

    /// <summary>A strong ETag for some bytes.</summary>
    public static string TagOf(ReadOnlySpan<byte> content) => $"\"{Convert.ToHexStringLower(SHA256.HashData(content).AsSpan(0, 16))}\"";

    /// <summary>Whether whoever asks has what has this ETag already (RFC 9110, section 13.1.2: the weak comparison).</summary>
    public static bool Has(HttpRequest request, string tag)
    {
        if (!EntityTagHeaderValue.TryParseList(request.Headers.IfNoneMatch, out var tags))
            return false;
        return tags.Any(known => known.Equals(EntityTagHeaderValue.Any) || known.Tag == tag);
    }

    private sealed class Answer<T>(T value, bool isPast, int status) : IResult
    {
        public async Task ExecuteAsync(HttpContext httpContext)
        {
            var response = httpContext.Response;
            var body = value as byte[] ?? JsonSerializer.SerializeToUtf8Bytes(value, ApiJson.Options);
            response.StatusCode = status;
            response.Headers.CacheControl = isPast ? "private, no-cache" : "no-store";
            if (isPast)
            {
                var tag = TagOf(body);
                response.Headers.ETag = tag;
                if (Has(httpContext.Request, tag))
                {
                    response.StatusCode = StatusCodes.Status304NotModified;
                    return;
                }
            }

            response.ContentType = Json;
            response.ContentLength = body.Length;
            if (!HttpMethods.IsHead(httpContext.Request.Method))
                await response.Body.WriteAsync(body, httpContext.RequestAborted);
        }
    }
}
