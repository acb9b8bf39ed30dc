using System.Globalization;
using System.Text.Json;
using Microsoft.AspNetCore.Http;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Api;

/// <summary>Bodies of requests, and what is wrong with their members.</summary>
/// <param name="context">The gateway.</param>
internal sealed class ApiBody(ApiContext context)
{
    /// <summary>The longest name, reason or remark, characters.</summary>
    public const int LongestText = ControllerText.MaximumLength;

    private const string Example = "2026-03-02T06:00:00Z";

    private readonly List<ParameterProblem> _problems = [];

    /// <summary>What is wrong with the members; null where nothing is.</summary>
    public ApiProblem? Problem => _problems.Count == 0 ? null : ApiProblem.Parameters(_problems);

    /// <summary>Reads a JSON object with exactly the members of a type, any of which may be left out.</summary>
    /// <returns>The object, or the answer that says what is wrong.</returns>
    public static async Task<(T? Value, ApiProblem? Problem)> ReadAsync<T>(HttpContext http)
        where T : class
    {
        // Also what keeps forms of other sites out: no browser sends this type elsewhere without asking first.
        if (!http.Request.HasJsonContentType())
            return (null, ApiProblem.Body(StatusCodes.Status415UnsupportedMediaType, "Send JSON with the header 'Content-Type: application/json'."));
        try
        {
            using var document = await JsonDocument.ParseAsync(http.Request.Body, new JsonDocumentOptions { MaxDepth = ApiJson.Options.MaxDepth }, http.RequestAborted);
            if (document.RootElement.ValueKind != JsonValueKind.Object)
                return (null, ApiProblem.Body(StatusCodes.Status400BadRequest, "Send a JSON object: { ... }."));
            var known = typeof(T).GetProperties().Select(property => JsonNamingPolicy.CamelCase.ConvertName(property.Name)).ToList();
            var strange = document.RootElement.EnumerateObject().Select(member => member.Name).Where(name => !known.Contains(name)).ToList();
            if (strange.Count > 0)
                return (null, ApiProblem.Parameters([.. strange.Select(name => new ParameterProblem(ControllerText.Clean(name), $"is not known here; known here: {string.Join(", ", known)}"))]));
            return (document.RootElement.Deserialize<T>(ApiJson.Options)!, null);
        }
        catch (JsonException e) when (e.Path is { Length: > 2 } path && path.StartsWith("$.", StringComparison.Ordinal))
        {
            // The serializer's own messages name types of the program, which help nobody outside.
            return (null, ApiProblem.Parameter(path[2..], e.Message.StartsWith("is ", StringComparison.Ordinal) ? e.Message : "has the wrong type of value"));
        }
        catch (JsonException e)
        {
            return (null, ApiProblem.Body(StatusCodes.Status400BadRequest, string.Create(CultureInfo.InvariantCulture, $"This is no JSON; it goes wrong in line {(e.LineNumber ?? 0) + 1}, at byte {(e.BytePositionInLine ?? 0) + 1}.")));
        }
    }

    /// <summary>Adds what is wrong with a member.</summary>
    /// <param name="name">The member.</param>
    /// <param name="detail">What is wrong and what would be right, without a full stop.</param>
    public void Wrong(string name, string detail) => _problems.Add(new ParameterProblem(name, detail));

    /// <summary>A text without what would do harm in a terminal or a message.</summary>
    /// <param name="name">The member.</param>
    /// <param name="raw">What came.</param>
    /// <param name="missing">What to say where it is missing and must not be; null: it may be left out.</param>
    /// <param name="longest">The longest that is taken, characters.</param>
    public string Text(string name, string? raw, string? missing = null, int longest = LongestText)
    {
        if (raw is { } written && written.Length > longest)
        {
            Wrong(name, string.Create(CultureInfo.InvariantCulture, $"is longer than {longest} characters"));
            return "";
        }

        var text = ControllerText.CleanUpTo(raw ?? "", longest).Trim();
        if (text.Length == 0 && missing is not null)
            Wrong(name, missing);
        return text;
    }

    /// <summary>The name of a configured saw; empty where it is none.</summary>
    public string Saw(string? saw)
    {
        if (saw is not null && context.HasSaw(saw))
            return saw;
        Wrong("saw", $"{(string.IsNullOrEmpty(saw) ? "is missing" : $"there is no saw {QueryReader.Quoted(ControllerText.Clean(saw))} here")}; the saws are {string.Join(", ", context.Options.Saws.Select(known => known.Name))}");
        return "";
    }

    /// <summary>A moment that must be told and has been.</summary>
    public DateTimeOffset Past(string name, DateTimeOffset? at)
    {
        if (at is null)
            Wrong(name, $"is missing; write a time, for example \"{Example}\"");
        else if (at > context.Now)
            Wrong(name, $"lies in the future: it is {ApiJson.Moment(context.Now)} now");
        return at ?? default;
    }
}
